"""Keep-out zones: nothing is ground in them, or nothing done at all, whichever way a floor is corrected."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from slab_core.correction.assurance.floors import as_built, planned, sample
from slab_core.correction.assurance.site import site_of
from slab_core.correction.assurance_model import PlacingErrors
from slab_core.correction.model import Limits, Plan
from slab_core.correction.ramps_model import DoorWays
from slab_core.correction.thresholds import between
from slab_core.errors import Problem
from slab_core.numerics.grid import Floats, Ints
from slab_core.rooms.model import Floor, KeepOut, Opening
from slab_core.stages import CHEAPEST, FILL_ONLY, GRIND_ONLY, LEVEL, PLANE
from tests.invented_floors import LIFTED, RULE, Work, build_up_m, door, rectangle, work

WIDE_M, LONG_M = 3.6, 4.5
CROWN_AT, HOLLOW_AT = (1.2, 1.5), (2.6, 3.0)


def slab(x: Floats, y: Floats) -> Floats:
    """A crown of 7 mm that every plane would be ground at, and a hollow of 3 mm."""
    (cx, cy), (hx, hy) = CROWN_AT, HOLLOW_AT
    crown = 7e-3 * np.exp(-((x - cx) ** 2 + (y - cy) ** 2) / 0.3)
    return np.asarray(crown - 3e-3 * np.exp(-((x - hx) ** 2 + (y - hy) ** 2) / 0.2))


def zone(at: tuple[float, float], *, half_m: float, fills: bool = True, id: str = "pipes") -> KeepOut:
    (x, y), h = at, half_m
    ring = ((x - h, y - h), (x + h, y - h), (x + h, y + h), (x - h, y + h))
    return KeepOut(id=id, reason="heating-pipes" if fills else "outlet", outline=ring, fills=fills)


PIPES = zone(CROWN_AT, half_m=0.33)
OUTLET = zone(HOLLOW_AT, half_m=0.07, fills=False, id="drain")


def job(*zones: KeepOut, openings: tuple[Opening, ...] = (), **changes: object) -> Work:
    floor = rectangle(width_m=WIDE_M, length_m=LONG_M, keep_outs=zones, openings=openings)
    return work(floor=floor, height_m=slab, columns=36, **changes)


@cache
def made(alternate: str, *zones: KeepOut) -> Plan:
    return job(*zones).plan(alternate)


def in_zone(plan: Plan, values: Ints, keep_out: KeepOut) -> float:
    """The most of what is ground or filled anywhere in a zone, between nodes too."""
    (x0, y0), (x1, y1) = keep_out.outline[0], keep_out.outline[2]
    x, y = (a.ravel() for a in np.meshgrid(np.linspace(x0, x1, 21), np.linspace(y0, y1, 21)))
    return float(between(values=values.astype(np.float64), grid=plan.grid, x=x, y=y).max())


def only(problems: tuple[Problem, ...]) -> Problem:
    (problem,) = [problem for problem in problems if problem.severity == "refusal"]
    return problem


@pytest.mark.parametrize("alternate", [PLANE, LEVEL, CHEAPEST])
def test_what_would_be_ground_in_a_zone_is_filled_around_instead(alternate: str) -> None:
    free, kept = made(alternate), made(alternate, PIPES)
    assert in_zone(free, free.grind, PIPES) > 100
    assert in_zone(kept, kept.grind, PIPES) == 0.0
    assert free.passes
    assert kept.passes
    assert kept.solve.objective >= kept.solve.bound > free.solve.bound
    assert kept.fill_m3 > free.fill_m3


@pytest.mark.parametrize("alternate", [PLANE, CHEAPEST])
def test_where_nothing_is_done_the_slab_stays_as_it_is(alternate: str) -> None:
    free, kept = made(alternate), made(alternate, OUTLET)
    assert in_zone(free, free.fill, OUTLET) > 100
    assert in_zone(kept, kept.fill, OUTLET) == in_zone(kept, kept.grind, OUTLET) == 0.0
    assert kept.passes
    assert kept.fill_m3 + kept.grind_m3 > 0.0
    assert kept.solve.objective >= kept.solve.bound


def test_a_pour_is_held_around_a_place_that_is_not_filled() -> None:
    """0.14 m a side and up to a step around it, on the slope of a hollow that is poured."""
    drain = zone((2.6, 2.2), half_m=0.07, fills=False)
    free, kept = (
        work(
            floor=rectangle(width_m=WIDE_M, length_m=LONG_M, keep_outs=zones),
            height_m=lambda x, y: -6e-3 * np.exp(-((x - 1.8) ** 2 + (y - 2.2) ** 2) / 0.5),
            columns=36,
            limits=Limits(no_grinding=True),
        )
        for zones in ((), (drain,))
    )
    plain, around = free.plan(), kept.plan()
    assert around.passes
    assert plain.ending_m == 0.0
    assert 0.5 <= around.ending_m <= 1.6
    dams = around.ending_m * kept.task().placing.per_dam_m
    assert around.plane is not None
    at = kept.at(height_m=around.plane[0], slope_x=around.plane[1], slope_y=around.plane[2])
    assert around.solve.objective == pytest.approx(at.solve.objective + dams)
    assert at.ending_m == around.ending_m


def test_a_slab_that_is_ground_alone_is_ground_around_a_zone() -> None:
    beside = zone((3.4, 2.0), half_m=0.1)
    free, kept = (
        work(
            floor=rectangle(width_m=WIDE_M, length_m=LONG_M, keep_outs=zones),
            height_m=lambda x, y: 0.02 * (1.0 - x / WIDE_M) ** 2 + 0.0 * y,
            columns=36,
            limits=Limits(greatest_grind_m=0.02),
            rules=(replace(RULE, gap_m=0.002),),
        ).plan(GRIND_ONLY)
        for zones in ((), (beside,))
    )
    assert in_zone(free, free.grind, beside) > 100
    assert in_zone(kept, kept.grind, beside) == 0.0
    assert kept.passes
    assert kept.grind_m3 > 0.0


def test_no_key_is_ground_in_under_thin_fill_in_a_zone() -> None:
    free, kept = (job(*zones, compound=LIFTED).plan() for zones in ((), (PIPES,)))
    assert in_zone(free, free.grind, PIPES) > 0.0
    assert in_zone(kept, kept.grind, PIPES) == 0.0
    filled = kept.fill[(kept.fill > 0) & (kept.grind == 0)]
    assert filled.min() >= 317
    assert kept.passes


def test_a_plane_that_was_given_leaves_a_zone_as_it_is() -> None:
    kept = job(PIPES, OUTLET).at(height_m=0.002)
    assert kept.grind_m3 > 0.0
    assert in_zone(kept, kept.grind, PIPES) == 0.0
    assert in_zone(kept, kept.fill, OUTLET) == 0.0
    assert not kept.passes


def test_the_bound_of_planes_counts_no_work_where_none_is_done() -> None:
    """Everything but a rim lies in a zone in which nothing is done, which costs what the rim takes."""
    rim = zone((WIDE_M / 2, LONG_M / 2), half_m=1.3, fills=False)
    limits = Limits(greatest_grind_m=0.01)
    kept = job(rim, rules=(replace(RULE, gap_m=0.012),), limits=limits).plan(LEVEL)
    assert kept.solve.bound <= kept.solve.objective
    assert in_zone(kept, kept.fill + kept.grind, rim) == 0.0


@pytest.mark.parametrize("alternate", [PLANE, CHEAPEST])
def test_a_refusal_names_the_zone_without_which_there_would_be_a_floor(alternate: str) -> None:
    limits = Limits(greatest_fill_m=0.003)
    assert job(limits=limits).plan(alternate).passes
    beside = zone((0.4, 4.0), half_m=0.1, id="other")
    problem = only(job(beside, PIPES, limits=limits).plan(alternate).problems)
    assert problem.code == "keep-out-unmeetable"
    assert problem.pointer == "/rooms/0/keep_outs/1"
    assert "without keep-out zone “pipes” (heating pipes) one would" in problem.detail


def test_a_doorway_that_a_zone_keeps_the_floor_from_names_the_zone() -> None:
    low = build_up_m() - 0.004
    west = door(id="west", start=(0.0, 3.0), end=(0.0, 3.9), low_m=low, high_m=low + 0.001)
    free = job(openings=(west,)).plan()
    assert free.passes
    at_door = zone((0.25, 3.45), half_m=0.25)
    problem = only(job(at_door, openings=(west,)).plan().problems)
    assert problem.pointer == "/rooms/0/keep_outs/0"
    assert "meets every threshold" in problem.detail
    placed = job(at_door, openings=(west,)).plan(CHEAPEST)
    assert in_zone(placed, placed.grind, at_door) == 0.0
    ramped = job(at_door, openings=(west,), doorways=DoorWays()).plan()
    assert ramped.passes
    assert in_zone(ramped, ramped.grind, at_door) == 0.0
    assert [work.way for work in ramped.doorways] == ["cut"]


def test_the_cheapest_heights_of_all_do_nothing_in_a_zone() -> None:
    free, kept = (job(*zones, lower_bound=True).plan().unrestricted for zones in ((), (PIPES,)))
    assert free is not None
    assert kept is not None
    assert kept.bound > free.cost
    assert kept.grind_m3 < free.grind_m3


def test_a_crew_that_finishes_a_floor_neither_scrapes_nor_skims_in_a_zone() -> None:
    one = job(PIPES, OUTLET)
    site = site_of(task=one.task(), placing=PlacingErrors(), lengths_m=(RULE.length_m,))
    aimed = planned(site=site, plan=one.at(height_m=0.004))
    x, y = np.meshgrid(site.on.grid.xs(), site.on.grid.ys())
    on_pipes = np.hypot(x - CROWN_AT[0], y - CROWN_AT[1]) < 0.3
    on_drain = np.hypot(x - HOLLOW_AT[0], y - HOLLOW_AT[1]) < 0.1
    assert not aimed.may_scrape[on_pipes].any()
    assert not aimed.may_fill[on_drain].any()
    assert aimed.may_fill[on_pipes].all()
    assert aimed.may_scrape.any()
    drawn = sample(site=site, count=3, rng=np.random.default_rng(1))
    (built,) = as_built(site=site, plan=aimed, drawn=drawn)
    left = on_pipes & aimed.left
    assert left.any()
    assert np.allclose(built[:, left], drawn.slab_m[:, left])


def test_zones_that_change_nothing_change_no_plan() -> None:
    """On a floor that is only filled no zone in which nothing is ground stands in the way."""
    free, kept = made(FILL_ONLY), made(FILL_ONLY, PIPES)
    assert np.array_equal(free.fill, kept.fill)
    assert free.solve == kept.solve


def test_each_room_of_a_floor_has_its_own_zones_and_pointers() -> None:
    floor: Floor = rectangle(width_m=WIDE_M, length_m=LONG_M, keep_outs=(PIPES, OUTLET))
    task = work(floor=floor, height_m=slab, columns=36, room_pointers={"room-1": "/rooms/4"}).task()
    assert [one.pointer for one in task.zones] == ["/rooms/4/keep_outs/0", "/rooms/4/keep_outs/1"]
    nodes = task.case.nodes
    assert np.array_equal(nodes.unground, task.zones[0].on | task.zones[1].on)
    assert np.array_equal(nodes.unfilled, task.zones[1].on)
    assert nodes.unfilled.sum() >= 4
