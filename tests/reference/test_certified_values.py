"""Our least squares against the certified results of NIST's Statistical Reference Datasets.

Source: NIST/ITL StRD, files in tests/reference/data/nist. Each test says how its model is a plane or a level
network in disguise.
"""

import json
import re
from pathlib import Path

import numpy as np
import pytest

from slab_core.numerics.grid import Floats
from slab_core.surface.readings_plane import readings_plane
from slab_core.surveys.leveling import Adjusted, Difference, adjust_differences
from tests.slabs import heights_at

FILES = Path(__file__).parent / "data/nist"


def _lines(name: str, *, what: str) -> list[str]:
    """The lines that the file's own head gives as its data or its certified values."""
    text = (FILES / f"{name}.dat").read_text()
    found = re.search(rf"{what} +\(lines +(\d+) to (\d+)\)", text)
    assert found is not None
    return text.splitlines()[int(found[1]) - 1 : int(found[2])]


def _data(name: str) -> Floats:
    return np.array([[float(part) for part in line.split()] for line in _lines(name, what="Data")])


def _certified(name: str, label: str) -> list[float]:
    """The numbers behind a label among the certified values."""
    lines = [" ".join(line.split()) for line in _lines(name, what="Certified Values")]
    (line,) = [line for line in lines if line.startswith(label)]
    return [float(part) for part in line.removeprefix(label).split()]


def test_a_line_laid_out_twice_side_by_side_has_the_certified_slope_and_spread() -> None:
    """Norris, z = B0 + B1 x, read along y = 0 and again along y = 1, is a plane that does not fall in y.

    Squares left over and Σ (x - x̄)² double while 2 · 36 - 3 readings are free instead of 36 - 2, so the
    plane's standard deviation of the slope is the certified one times √(34 / 69).
    """
    value, x = _data("Norris").T
    twice = heights_at(
        x_m=np.tile(x, 2), y_m=np.repeat([0.0, 1.0], len(x)), value_m=np.tile(value, 2), sd_m=1.0
    )
    plane = readings_plane(observations=twice)
    slope, slope_sd = _certified("Norris", "B1")
    squares, _ = _certified("Norris", "Residual 34")
    assert plane.heights == 72
    assert plane.slope_x == pytest.approx(slope, rel=1e-13, abs=0)
    assert plane.slope_y == pytest.approx(0.0, abs=1e-12)
    assert plane.slope_x_sd == pytest.approx(slope_sd * np.sqrt(34 / 69), rel=1e-11, abs=0)
    assert plane.residual_m == pytest.approx(np.sqrt(squares / 36), rel=1e-11, abs=0)


def test_a_parabola_is_a_plane_over_its_place_and_the_square_of_it() -> None:
    """Pontius, z = B0 + B1 x + B2 x²: a height at (x, x²) for every load x and deflection z.

    In units of 300,000 of load, so that the places are those of a room; the slopes scale with them.
    """
    given = json.loads((FILES / "Pontius.json").read_text())
    unit, certified = 3e5, given["certified"]
    x = np.tile(given["load"], 2) / unit
    value = np.ravel(given["deflection"])
    plane = readings_plane(observations=heights_at(x_m=x, y_m=x**2, value_m=value, sd_m=1.0))
    assert plane.heights == 40
    assert [plane.slope_x / unit, plane.slope_x_sd / unit] == pytest.approx(certified["B1"], rel=1e-11, abs=0)
    assert [plane.slope_y / unit**2, plane.slope_y_sd / unit**2] == pytest.approx(
        certified["B2"], rel=1e-10, abs=0
    )
    assert plane.residual_m == pytest.approx(certified["residual_sd"] * np.sqrt(37 / 40), rel=1e-11, abs=0)


@pytest.mark.parametrize(
    ("name", "kind"), [("SiRstv", "Instrument"), ("AtmWtAg", "Instrument"), ("SmLs04", "Treatment")]
)
def test_benchmarks_read_many_times_over_leave_the_certified_squares(name: str, kind: str) -> None:
    """An analysis of variance is a level network: each group a benchmark read many times above the datum.

    What is left with a height for each group is the squares within; with one height for all, the total.
    """
    group, value = _data(name).T
    within = _adjusted([f"{g:.0f}" for g in group], value)
    total = _adjusted(["all"] * len(value), value)
    freedom_between, squares_between, *_ = _certified(name, f"Between {kind}")
    freedom_within, squares_within, mean_within = _certified(name, f"Within {kind}")
    left, all_left = (float(np.sum(fit.residual_m**2)) for fit in (within, total))
    assert within.degrees_of_freedom == freedom_within
    assert total.degrees_of_freedom - within.degrees_of_freedom == freedom_between
    # Doubles keep values of seven equal leading digits to about 1e-9 of what differs between them.
    assert left == pytest.approx(squares_within, rel=1e-9, abs=0)
    assert all_left - left == pytest.approx(squares_between, rel=1e-9, abs=0)
    assert left / within.degrees_of_freedom == pytest.approx(mean_within, rel=1e-9, abs=0)


def _adjusted(groups: list[str], value: Floats) -> Adjusted:
    differences = tuple(
        Difference(upper=("point", name), lower=None, value_m=float(v), sd_m=1.0)
        for name, v in zip(groups, value, strict=True)
    )
    return adjust_differences(differences=differences, known={})
