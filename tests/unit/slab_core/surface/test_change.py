"""Work that was done to a slab is taken off its readings before the fit and put back behind it."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Grid, to_metres, to_steps
from slab_core.surface.change import as_at_first, changed_at
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import Change, Surface, SurfaceOptions
from slab_core.surface.sample import draw, evaluate
from slab_core.surveys.model import Observations
from tests.invented_floors import rectangle

FLOOR = rectangle(width_m=4.0, length_m=3.0)
STEP_M = 0.05
GRID = Grid(x0_m=0.0, y0_m=0.0, step_m=STEP_M, nx=81, ny=61)
LIP_X = 2.025
"""Half way between two columns of nodes."""


def _slab(x: Floats, y: Floats) -> Floats:
    return np.asarray(0.004 * np.sin(1.5 * x) + 0.002 * y)


def _pour(x: Floats, y: Floats) -> Floats:
    """Up to 15 mm above the datum left of the lip."""
    return np.asarray(np.where(x < LIP_X, 0.015 - _slab(x, y), 0.0))


def _change() -> Change:
    x, y = np.meshgrid(GRID.xs(), GRID.ys())
    return Change(grid=GRID, height=to_steps(_pour(x, y)), part=(x < LIP_X).astype(np.int32))


def _read(sd_m: float = 0.0005) -> Observations:
    x, y = (a.ravel() for a in np.meshgrid(np.linspace(0.1, 3.9, 13), np.linspace(0.1, 2.9, 9)))
    return Observations(
        x_m=np.repeat(x[:, None], 3, axis=1),
        y_m=np.repeat(y[:, None], 3, axis=1),
        weight=np.tile([1.0, 0.0, 0.0], (len(x), 1)),
        value_m=_slab(x, y) + _pour(x, y),
        sd_m=np.full(len(x), sd_m),
        position_sd_m=np.zeros(len(x)),
        pointer=("",) * len(x),
    )


def _fitted(change: Change | None) -> Surface:
    return fit_surface(
        floor=FLOOR, observations=_read(), options=SurfaceOptions(grid_step_m=STEP_M), budget=Budget(),
        change=change,
    )  # fmt: skip


def _off_mm(surface: Surface) -> Floats:
    x, y = np.meshgrid(surface.grid.xs(), surface.grid.ys())
    truth = _slab(x, y) + _pour(x, y)
    return np.asarray(1e3 * (to_metres(surface.height) - truth)[surface.inside])


def test_a_lip_that_was_poured_as_planned_is_not_smoothed_across() -> None:
    smoothed, known = (np.abs(_off_mm(_fitted(change))).max() for change in (None, _change()))
    assert smoothed > 5.0
    assert known < 0.4


def test_values_and_draws_of_the_surface_have_the_lip_too() -> None:
    surface = _fitted(_change())
    x, y = np.array([1.9, 2.0, 2.04, 2.2]), np.full(4, 1.5)
    at = evaluate(spline=surface.spline, x_m=x, y_m=y)
    assert 1e3 * at == pytest.approx(1e3 * (_slab(x, y) + _pour(x, y)), abs=0.3)
    drawn = draw(spline=surface.spline, grid=surface.grid, count=200, rng=np.random.default_rng(1))
    off = drawn.mean(axis=0) - to_metres(surface.height)
    assert np.abs(1e3 * off[surface.inside]).max() < 0.3


def test_the_plane_through_the_readings_is_that_of_the_heights_as_they_were_read() -> None:
    known, smoothed = _fitted(_change()), _fitted(None)
    assert known.readings_plane == smoothed.readings_plane


def test_inside_a_part_the_change_runs_on_between_nodes_and_at_its_border_it_stops() -> None:
    change = _change()
    x = np.array([1.01, 1.037, 2.02, 2.03])
    found = changed_at(change, x_m=x, y_m=np.full(4, 1.013))
    assert 1e3 * found == pytest.approx(1e3 * _pour(x, np.full(4, 1.013)), abs=0.15)
    assert found[3] == 0.0


def test_a_gap_over_a_lip_loses_what_the_lip_makes_of_it() -> None:
    """An edge from the pour to the slab beside it: the gap is read in the slab."""
    seen = replace(
        _read(),
        x_m=np.array([[1.0, 3.0, 2.5]]),
        y_m=np.array([[1.0, 1.0, 1.0]]),
        weight=np.array([[0.25, 0.75, -1.0]]),
        value_m=np.array([0.01]),
        sd_m=np.array([0.0005]),
        position_sd_m=np.zeros(1),
        pointer=("",),
    )
    first = as_at_first(seen, change=_change())
    assert first.value_m[0] == pytest.approx(
        0.01 - 0.25 * float(_pour(np.array(1.0), np.array(1.0))), abs=1e-5
    )
