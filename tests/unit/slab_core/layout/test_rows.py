"""Where rows lie, and how wide the first and last are."""

import itertools
from dataclasses import replace

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from slab_core.layout.rows import plan_rows
from slab_core.materials import starter

COVERING = replace(starter.covering(), width_m=0.1, least_rip_m=0.04)


def _widths(height: float) -> list[float]:
    lines = plan_rows(shape=shapely.box(0, 0, 3, height), covering=COVERING).lines
    return [float(b - a) for a, b in itertools.pairwise(lines)]


def test_a_wide_enough_last_row_leaves_the_first_row_whole() -> None:
    assert _widths(1.05) == pytest.approx([0.1] * 10 + [0.05])


def test_a_last_row_too_narrow_is_shared_with_the_first() -> None:
    # (rest + width) / 2 each, as the trade does it: common practice, no single source.
    assert _widths(1.02) == pytest.approx([0.06] + [0.1] * 9 + [0.06])


def test_a_floor_of_whole_rows_has_no_rip() -> None:
    assert _widths(1.0) == pytest.approx([0.1] * 10)


def test_a_floor_narrower_than_a_board_is_one_row() -> None:
    assert _widths(0.07) == pytest.approx([0.07])


@given(st.floats(0.2, 5.0))
def test_rows_fill_the_height_and_no_rip_is_below_the_least(height: float) -> None:
    widths = _widths(height)
    assert sum(widths) == pytest.approx(height)
    assert min(widths) >= COVERING.least_rip_m - 1e-6
    assert max(widths) <= COVERING.width_m + 1e-9


def test_rows_are_moved_so_that_an_obstacle_leaves_no_narrow_rip() -> None:
    # A hearth whose edge would leave 10 mm of floor if the first row were whole.
    shape = shapely.box(0, 0, 3, 1.05).difference(shapely.box(1, 0, 2, 0.49))
    plan = plan_rows(shape=shape, covering=COVERING)
    assert plan.thin_rip_m == 0
    beyond = float(min(line - 0.49 for line in plan.lines if line > 0.49))
    assert beyond >= COVERING.least_rip_m - 1e-9


def test_rips_that_cannot_be_avoided_are_reported_by_their_length() -> None:
    steps = [shapely.box(0.5 * k, 0, 0.5 * k + 0.5, 1.0 + 0.02 * k) for k in range(6)]
    plan = plan_rows(shape=shapely.union_all(steps), covering=COVERING)
    assert plan.thin_rip_m >= 0.5


def test_a_row_split_by_an_obstacle_has_a_stretch_on_either_side() -> None:
    shape = shapely.box(0, 0, 3, 1).difference(shapely.box(1, 0.25, 2, 0.75))
    stretches = plan_rows(shape=shape, covering=COVERING).stretches
    in_middle = [s for s in stretches if s.row == 5]
    assert [(s.start_m, s.end_m) for s in in_middle] == [(0.0, 1.0), (2.0, 3.0)]
    assert sum(s.area_m2 for s in stretches) == pytest.approx(shape.area)
