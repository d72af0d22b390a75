"""What a crew measures while it lays, on floors whose answers are plain."""

from dataclasses import replace

import pytest
import shapely

from slab_core.layout.checks import stair_steps
from slab_core.layout.model import TaperedRip
from slab_core.layout.rows import plan_rows
from slab_core.materials import starter
from tests.laid_floors import floor_of, laid, rectangle

COVERING = replace(starter.covering(), direction_deg=0.0, width_m=0.1, least_rip_m=0.04, expansion_gap_m=0.01)


def test_rows_that_part_at_an_obstacle_are_measured_on_both_sides_before_they_meet_again() -> None:
    layout = laid(floor_of(rectangle(0, 0, 5, 3), holes=(rectangle(2, 1, 3, 2),)), covering=COVERING)
    (check,) = layout.closures
    parted = [row for row in range(1, layout.rows + 1) if sum(run.row == row for run in layout.runs) == 2]
    assert (check.first_row, check.last_row) == (parted[0], parted[-1])
    assert check.across_m == pytest.approx(0.1 * len(parted))
    assert (check.left_m, check.right_m) == pytest.approx((1.99 - 0.01, 3.01 - 0.01))


def test_rows_that_never_meet_again_need_no_closure() -> None:
    u_shape = floor_of(((0, 0), (5, 0), (5, 3), (3, 3), (3, 1), (2, 1), (2, 3), (0, 3)))
    assert laid(u_shape, covering=COVERING).closures == ()
    assert laid(floor_of(rectangle(0, 0, 5, 3)), covering=COVERING).closures == ()


def test_the_control_line_lies_between_the_rows_that_are_longest() -> None:
    # Rows of 5 m below 1 m, of 2 m above.
    layout = laid(floor_of(((0, 0), (5, 0), (5, 1), (2, 1), (2, 3), (0, 3))), covering=COVERING)
    assert 0 < layout.lines_m[layout.control_line] < 1.0
    assert len(layout.lines_m) == layout.rows + 1


def test_a_wall_out_of_square_makes_a_tapered_rip_whose_two_widths_are_told() -> None:
    # 30 mm over 4 m: of a row at the far wall, 1 - 0.02 = 0.98 m of rows at the left, 1.01 at the right.
    floor = floor_of(((0, 0), (4, 0), (4, 1.03), (0, 1.0)))
    layout = laid(floor, covering=COVERING)
    (rip,) = layout.tapered_rips
    assert rip.row == layout.rows
    slope = (rip.end_width_m - rip.start_width_m) / (4.0 - 0.02 - 2 * 0.1)
    assert slope == pytest.approx(0.03 / 4.0, rel=1e-6)
    assert isinstance(rip, TaperedRip)
    assert min(rip.start_width_m, rip.end_width_m) >= COVERING.least_rip_m


def test_the_narrow_end_of_a_taper_counts_as_a_rip() -> None:
    # The far wall climbs from 1.01 to 1.03 m: with a whole first row it would leave 10 to 30 mm.
    shape = shapely.Polygon(((0, 0), (4, 0), (4, 1.03), (0, 1.01)))
    plan = plan_rows(shape=shape, covering=COVERING)
    assert plan.thin_rip_m == 0.0
    assert 1.01 - plan.lines[-2] >= COVERING.least_rip_m - 1e-9


def test_centred_rows_lie_alike_on_both_sides_of_the_middle() -> None:
    plan = plan_rows(shape=shapely.box(0, 0, 4, 1.27), covering=replace(COVERING, rows_start="centred"))
    first, last = plan.lines[1] - plan.lines[0], plan.lines[-1] - plan.lines[-2]
    assert first == pytest.approx(last)
    assert first >= COVERING.least_rip_m


def test_a_line_through_a_point_carries_rows_on_from_another_room() -> None:
    covering = replace(COVERING, line_through=(1.0, 0.377))
    layout = laid(floor_of(rectangle(0, 0, 5, 3)), covering=covering)
    lines = [line + layout.origin[1] for line in layout.lines_m]
    assert min(abs(line - 0.377) for line in lines) < 1e-9


def test_a_line_that_is_given_for_a_given_direction_binds_no_rows_across_it() -> None:
    # A line 20 mm beside the wall that rows across would run along leaves a sliver all along it.
    covering = replace(COVERING, line_through=(0.03, 1.0), expansion_gap_m=0.01)
    _, across = laid(floor_of(rectangle(0, 0, 5, 3)), covering=covering).directions
    assert across.thin_rip_m == 0.0
    chosen = laid(floor_of(rectangle(0, 0, 5, 3)), covering=replace(covering, direction_deg=None))
    assert max(choice.thin_rip_m for choice in chosen.directions) == pytest.approx(2.98)


def test_both_directions_are_told_with_what_they_come_to_and_the_first_is_laid() -> None:
    layout = laid(floor_of(rectangle(0, 0, 5.3, 3.4)))
    first, second = layout.directions
    assert (first.direction_deg, first.boards, first.cuts) == (
        layout.direction_deg,
        layout.boards,
        layout.cuts,
    )
    assert {first.direction_deg, second.direction_deg} == {0.0, 90.0}
    assert second.waste_bound_share <= second.waste_share


def test_a_direction_that_is_given_is_taken_though_the_one_across_it_wastes_less() -> None:
    floor = floor_of(rectangle(0, 0, 5.33, 2.87))
    by_waste = {choice.direction_deg: choice.waste_share for choice in laid(floor).directions}
    worse = max(by_waste, key=lambda deg: by_waste[deg])
    layout = laid(floor, covering=replace(starter.covering(), direction_deg=worse))
    given, across = layout.directions
    assert (layout.chosen_by, layout.direction_deg, given.direction_deg) == ("given", worse, worse)
    assert across.direction_deg == 90.0 - worse
    assert across.waste_share < given.waste_share


def test_three_even_steps_are_a_stair_and_two_or_uneven_ones_are_not() -> None:
    assert stair_steps(joints={1: [1.0], 2: [1.3], 3: [1.6]}, stagger_m=0.2) == 1
    assert stair_steps(joints={1: [1.0], 2: [1.3], 3: [1.9]}, stagger_m=0.2) == 0
    assert stair_steps(joints={1: [1.0], 2: [1.3]}, stagger_m=0.2) == 0
    assert (
        stair_steps(joints={1: [1.0], 2: [1.5], 3: [2.0]}, stagger_m=0.2) == 0
    )  # treads of twice the stagger


def test_in_an_ordinary_room_not_one_joint_in_a_hundred_makes_a_stair() -> None:
    layouts = [laid(floor_of(rectangle(0, 0, 6, 5)), seed=seed) for seed in range(4)]
    joints = sum(len(layout.pieces) - len(layout.runs) for layout in layouts)
    assert 100 * sum(layout.stair_steps for layout in layouts) <= joints
