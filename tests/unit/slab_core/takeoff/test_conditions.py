"""Findings on climate and moisture that somebody has to settle before the work goes on."""

from dataclasses import replace

import pytest

from slab_core.materials import starter
from slab_core.materials.model import Climate
from slab_core.takeoff.model import Scope, Takeoff
from tests.laid_floors import floor_of, rectangle
from tests.takeoff_jobs import plan, pour, taken_off

FLOOR = floor_of(rectangle(0, 0, 3, 3))
FILLED = plan(FLOOR, pours=(pour(bags=4, ft2=60, border_ft=20),), pour_days=1)


def _codes(takeoff: Takeoff) -> set[str]:
    return {p.code for p in takeoff.problems}


@pytest.mark.parametrize(("celsius", "found"), [(5.0, True), (10.0, False), (29.0, False), (31.0, True)])
def test_compound_is_poured_between_50_and_85_fahrenheit(celsius: float, found: bool) -> None:
    takeoff = taken_off((FLOOR,), (FILLED,), climate=Climate(temperature_c=celsius))
    told = [p.pointer for p in takeoff.problems if p.code == "air-temperature"]
    assert told == (["/climate/temperature_c"] if found else [])
    dry = taken_off((FLOOR,), (plan(FLOOR),), climate=Climate(temperature_c=celsius))
    assert "air-temperature" not in _codes(dry)


@pytest.mark.parametrize(
    ("climate", "found"),
    [
        (Climate(), False),
        (Climate(humidity=0.6), True),
        (Climate(humidity=0.2), True),
        (Climate(temperature_c=14.0), True),
    ],
)
def test_wood_is_laid_in_the_climate_it_will_live_in(climate: Climate, found: bool) -> None:
    assert ("climate-for-wood" in _codes(taken_off((FLOOR,), (FILLED,), climate=climate))) is found


def test_without_a_moisture_test_only_a_barrier_adhesive_will_do() -> None:
    untested = Scope(moisture_tests=False)
    assert "moisture-unknown" in _codes(taken_off((FLOOR,), (FILLED,), scope=untested))
    assert "moisture-unknown" not in _codes(taken_off((FLOOR,), (FILLED,)))
    barrier = replace(starter.catalogue(), adhesive=starter.barrier_adhesive())
    assert "moisture-unknown" not in _codes(taken_off((FLOOR,), (FILLED,), scope=untested, catalogue=barrier))
