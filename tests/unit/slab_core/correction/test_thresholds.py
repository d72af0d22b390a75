"""Doorways hold the plane; those that cannot be met are named with the nearest height."""

import re
from dataclasses import replace

import numpy as np
import pytest

from slab_core.correction.model import Limits, Plan
from slab_core.numerics.grid import Floats
from slab_core.rooms.model import Opening
from tests.invented_floors import INCH_M, LIFTED, build_up_m, door, rectangle, work

WIDE_M, LONG_M = 3.0, 4.0
FLUSH_M = INCH_M / 32


def dish(x: Floats, y: Floats) -> Floats:
    """A hollow of 9 mm in the middle of a flat rim."""
    return -9e-3 * np.cos(np.pi * (x / WIDE_M - 0.5)) * np.cos(np.pi * (y / LONG_M - 0.5))


def south(finished_m: float, *, half_range_m: float = FLUSH_M) -> Opening:
    return door(
        id="south",
        start=(1.0, 0.0),
        end=(1.9, 0.0),
        low_m=finished_m - half_range_m,
        high_m=finished_m + half_range_m,
    )


def planned(*openings: Opening, limits: Limits | None = None) -> Plan:
    floor = rectangle(width_m=WIDE_M, length_m=LONG_M, openings=openings)
    return work(floor=floor, height_m=dish, columns=40, limits=limits or Limits()).plan()


def plane_at(plan: Plan, x: float, y: float) -> float:
    assert plan.plane is not None
    return plan.plane[0] + plan.plane[1] * x + plan.plane[2] * y


@pytest.mark.parametrize("above_mm", [-3.0, 0.0, 4.0, 10.0])
def test_the_finished_floor_lies_in_the_range_along_the_whole_doorway(above_mm: float) -> None:
    finished = above_mm * 1e-3 + build_up_m()
    plan = planned(south(finished))
    for x in (1.0, 1.45, 1.9):
        assert abs(plane_at(plan, x, 0.0) + build_up_m() - finished) <= FLUSH_M + 1e-5


def test_a_doorway_out_of_reach_of_the_grinder_is_named_with_the_nearest_height() -> None:
    finished = -0.010 + build_up_m()
    plan = planned(south(finished))
    assert plan.solve.status == "infeasible"
    assert not plan.passes
    assert not plan.fill.any()
    (problem,) = plan.problems
    assert problem.code == "threshold-unmeetable"
    assert problem.severity == "refusal"
    assert problem.pointer == "/rooms/0/openings/0/threshold"
    assert "opening south" in problem.detail
    # The rim at the door is at 0 and may be ground by 1/4 in: 6.35 mm below it is the nearest.
    nearest_mm = (build_up_m() - 0.00635) * 1e3
    assert "nearest that can be reached is" in problem.detail
    assert f"({nearest_mm:.1f} mm)" in problem.detail
    assert 'greatest grinding depth of 1/4" (6.4 mm)' in problem.detail


def test_a_miss_that_no_inch_fraction_shows_is_not_said_to_be_nothing() -> None:
    # 6.35 mm may be ground and 0.05 mm more would be needed.
    finished = -0.0064 + build_up_m()
    (problem,) = planned(south(finished, half_range_m=0.0)).problems
    assert 'less than 1/32" (0.05 mm) above the range' in problem.detail


def test_a_slab_that_may_not_be_ground_is_said_to_be_what_stops_it() -> None:
    plan = planned(south(-0.003 + build_up_m()), limits=Limits(no_grinding=True))
    assert "no grinding is allowed on this slab" in plan.problems[0].detail


def test_too_much_fill_is_said_to_be_what_stops_it() -> None:
    plan = planned(south(0.05 + build_up_m()))
    assert 'greatest fill of 1-1/2" (38.1 mm)' in plan.problems[0].detail


def test_doorways_that_no_plane_joins_are_all_named() -> None:
    ends = [
        ((0.0, 0.1), (0.0, 0.9)),
        ((WIDE_M, 0.1), (WIDE_M, 0.9)),
        ((0.0, 3.1), (0.0, 3.9)),
        ((WIDE_M, 3.1), (WIDE_M, 3.9)),
    ]
    rise = [0.0, 0.0, 0.0, 0.010]
    openings = [
        door(
            id=f"d{k}",
            start=a,
            end=b,
            low_m=build_up_m() + rise[k] - 5e-4,
            high_m=build_up_m() + rise[k] + 5e-4,
        )
        for k, (a, b) in enumerate(ends)
    ]
    plan = planned(*openings)
    assert len(plan.problems) == 4
    assert all("no single plane runs through all doorways" in problem.detail for problem in plan.problems)
    assert [problem.pointer for problem in plan.problems] == [
        f"/rooms/0/openings/{k}/threshold" for k in range(4)
    ]


def told_mm(plan: Plan, what: str) -> float:
    """What the refusal says would do, as it shows it."""
    found = re.search(r"\((\d+\.\d) mm\) " + what, plan.problems[0].detail)
    assert found is not None, plan.problems[0].detail
    return float(found.group(1)) * 1e-3


@pytest.mark.parametrize(
    ("finished_m", "what", "field"),
    [
        (-0.0102, "more of grinding", "greatest_grind_m"),
        (-0.0137, "more of grinding", "greatest_grind_m"),
        (0.0431, "more of fill", "greatest_fill_m"),
        (0.0502, "more of fill", "greatest_fill_m"),
    ],
)
def test_the_limit_that_would_do_does_when_it_gives_way_so_far_and_hardly_less_would(
    finished_m: float, what: str, field: str
) -> None:
    opening = south(finished_m + build_up_m())
    more = told_mm(planned(opening), what)
    usual = getattr(Limits(), field)
    assert planned(opening, limits=replace(Limits(), **{field: usual + more})).solve.status != "infeasible"
    # It is rounded up to 1/32 in.
    less = replace(Limits(), **{field: usual + more - INCH_M / 32 - 2e-4})
    assert planned(opening, limits=less).solve.status == "infeasible"


@pytest.mark.parametrize("finished_m", [-0.0102, 0.0502])
def test_a_range_that_reaches_so_far_as_the_refusal_says_would_do_and_hardly_less_would(
    finished_m: float,
) -> None:
    finished = finished_m + build_up_m()
    more = told_mm(planned(south(finished)), "further at the doorways")
    assert planned(south(finished, half_range_m=FLUSH_M + more)).solve.status != "infeasible"
    less = FLUSH_M + more - INCH_M / 32 - 2e-4
    assert planned(south(finished, half_range_m=less)).solve.status == "infeasible"


def test_what_is_forbidden_is_not_said_to_do_by_a_little_more_of_it() -> None:
    plan = planned(south(-0.003 + build_up_m()), limits=Limits(no_grinding=True))
    assert "more of grinding" not in plan.problems[0].detail
    assert "options.doorways" in plan.problems[0].detail


def test_a_passing_floor_is_still_raised_to_a_doorway_that_asks_for_it() -> None:
    high = 0.008 + build_up_m()
    floor = rectangle(width_m=WIDE_M, length_m=LONG_M, openings=(south(high),))
    plan = work(floor=floor, height_m=lambda x, y: 0.0 * x, columns=40).plan()
    assert plan.solve.status != "not-needed"
    assert plan.fill_m3 > 0.0
    assert abs(plane_at(plan, 1.45, 0.0) - 0.008) <= FLUSH_M + 1e-5


def test_limits_that_no_plane_can_keep_are_refused_with_what_would_do() -> None:
    floor = rectangle(width_m=WIDE_M, length_m=LONG_M)
    plan = work(floor=floor, height_m=lambda x, y: 0.08 * np.sin(3 * x) * np.sin(3 * y), columns=40).plan()
    assert plan.solve.status == "infeasible"
    assert plan.problems[0].code == "limits-unmeetable"
    assert plan.problems[0].severity == "refusal"


def test_a_doorway_at_slab_height_cannot_take_a_lift_that_may_not_be_keyed_in() -> None:
    floor = rectangle(width_m=WIDE_M, length_m=LONG_M, openings=(south(build_up_m()),))
    limits = Limits(no_grinding=True)
    plan = work(floor=floor, height_m=dish, columns=40, compound=LIFTED, limits=limits).plan()
    assert plan.solve.status == "infeasible"
    assert plan.problems[0].code == "least-lift-unmeetable"
    assert '1/8"' in plan.problems[0].detail
