"""Hours of grinding for height can be followed from the line's own trace."""

import re

import pytest

from slab_core.materials import starter
from slab_core.takeoff.model import TakeoffLine
from tests.takeoff_jobs import whole_job


def _lines() -> dict[str, TakeoffLine]:
    lines = whole_job().lines
    return {line.key.code: line for line in lines if line.kind == "labour" and "grind" in line.key.code}


def _places(line: TakeoffLine) -> dict[str, tuple[float, float]]:
    """Litres and hours by place."""
    found = {}
    for name, text in line.trace.inputs.items():
        told = re.fullmatch(r"([\d.]+) L in all off .* deep: ([\d.]+) h", text)
        if told:
            found[name] = (float(told[1]), float(told[2]))
    return found


def _figure(line: TakeoffLine, name: str) -> float:
    found = re.search(r"[\d.]+", line.trace.inputs[name])
    assert found is not None
    return float(found[0])


def test_the_places_of_a_plan_add_up_to_its_hours_of_each_tool() -> None:
    lines = _lines()
    for code in {"grind", "hand-grind"} & set(lines):
        places = _places(lines[code])
        assert places
        hours = sum(mh for _, mh in places.values())
        assert hours == pytest.approx(_figure(lines[code], "plan"), abs=0.006 * (len(places) + 1))


def test_volume_rate_and_factors_of_a_trace_lead_to_the_hours_between_the_least_and_most_of_depth() -> None:
    lines = {code: line for code, line in _lines().items() if code in ("grind", "hand-grind")}
    assert lines
    litres = {name: volume for line in lines.values() for name, (volume, _) in _places(line).items()}
    flat = sum(
        sum(mh for _, mh in _places(line).values()) * _figure(line, "rate") / _figure(line, "overhead")
        for line in lines.values()
    )
    most = max(share for _, share in starter.rates().depth_factors)
    assert 0.97 * sum(litres.values()) <= flat <= 1.03 * most * sum(litres.values())
    assert all(line.trace.inputs["hardness"] == "ordinary, × 1" for line in lines.values())
    assert all("× 1 down to 3.2 mm" in line.trace.inputs["depth"] for line in lines.values())
