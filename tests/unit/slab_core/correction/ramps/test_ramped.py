"""Doorways that the floor does not meet get what costs least: a ramp, another transition, a cut door, or the
whole floor brought to them."""

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.correction.assurance_model import Confidence
from slab_core.correction.model import Plan
from slab_core.correction.ramps.options import Need, combinations
from slab_core.correction.ramps.ramped import ramp_steps
from slab_core.correction.ramps_model import RAMP_RULE, DoorWays, DoorWork
from slab_core.correction.resurvey.standing import EarlierPlan, Standing, work_ids
from slab_core.numerics.grid import Floats, Ints, Mask, to_metres
from slab_core.rooms.model import Floor
from slab_core.stages import PLANE
from slab_core.tolerance.check import check_heights
from tests.invented_floors import FEATHERED, RULE, Work, build_up_m, door, rectangle, work

WIDE_M, LONG_M = 4.0, 6.0
HALF_M = 8e-4
RAMPS_ALONE = DoorWays(transitions=False, cuts=False)


def bowl(x: Floats, y: Floats) -> Floats:
    """A hollow of 7 mm in the middle of a flat rim, too deep for the rule."""
    return -7e-3 * np.sin(np.pi * x / WIDE_M) * np.sin(np.pi * y / LONG_M)


def flat(x: Floats, y: Floats) -> Floats:
    return 0.0 * x


def passing(x: Floats, y: Floats) -> Floats:
    """Waves of a millimetre, which the rule allows."""
    return 5e-4 * np.sin(2 * x) * np.cos(2 * y) * np.minimum(1.0, LONG_M - y)


def room(north_m: float) -> Floor:
    """A door to the west at the height of the rim, and one to the north so much above it."""
    west = door(
        id="west",
        start=(0.0, 1.0),
        end=(0.0, 1.9),
        low_m=build_up_m() - HALF_M,
        high_m=build_up_m() + HALF_M,
    )
    north = door(
        id="north",
        start=(1.5, LONG_M),
        end=(2.4, LONG_M),
        low_m=build_up_m() + north_m - HALF_M,
        high_m=build_up_m() + north_m + HALF_M,
    )
    return rectangle(width_m=WIDE_M, length_m=LONG_M, openings=(west, north))


Slab = Callable[[Floats, Floats], Floats]


def made(
    north_m: float, ways: DoorWays | None = RAMPS_ALONE, *, slab: Slab = bowl, **changes: object
) -> Work:
    return work(floor=room(north_m), height_m=slab, columns=26, doorways=ways, **changes)


@cache
def planned(
    north_m: float, ways: DoorWays | None = RAMPS_ALONE, *, slab: Slab = bowl, alternate: str = PLANE
) -> tuple[Work, Plan]:
    """The floor and its plan, which several tests look at."""
    case = made(north_m, ways, slab=slab)
    return case, case.plan(alternate)


def finished(case: Work, plan: Plan) -> Floats:
    return to_metres(case.surface.height - plan.grind + plan.fill)


def within(case: Work, metres: float) -> Mask:
    """Nodes so near to the north door, by nothing of the code under test."""
    x, y = np.meshgrid(case.surface.grid.xs(), case.surface.grid.ys())
    return np.asarray(np.hypot(x - np.clip(x, 1.5, 2.4), y - LONG_M) < metres)


def largest_m(case: Work, plan: Plan, *, where: Mask, work: DoorWork | None = None) -> float:
    """By the tolerance code alone, by the ramp's rule or the room's."""
    rule = RULE if work is None or work.rule is None else work.rule
    (report,) = check_heights(
        floor=case.floor,
        grid=case.surface.grid,
        heights_m=finished(case, plan),
        inside=where,
        rules=(rule,),
    )
    return report.largest_m


def ramps(plan: Plan) -> list[DoorWork]:
    return [work for work in plan.doorways if work.way == "ramp"]


@pytest.mark.parametrize("slab", [bowl, flat])
def test_doors_that_the_cheapest_plane_meets_get_nothing(slab: Slab) -> None:
    (_, plan), (_, plain) = planned(0.0, DoorWays(), slab=slab), planned(0.0, None, slab=slab)
    assert plan.doorways == ()
    assert plan.solve.objective == plain.solve.objective


def test_a_door_raised_until_planes_are_dearer_gets_a_ramp() -> None:
    got = [bool(planned(rise_mm * 1e-3)[1].doorways) for rise_mm in (0.0, 0.5, 6.0, 12.0)]
    assert got == sorted(got)
    assert not got[0]
    assert got[-1]


@pytest.mark.parametrize("slab", [bowl, flat])
@pytest.mark.parametrize("north_mm", [9.0, 16.0, -5.0])
def test_a_ramp_keeps_its_own_rule_and_the_rest_the_rooms(slab: Slab, north_mm: float) -> None:
    case, plan = planned(north_mm * 1e-3, slab=slab)
    (ramp,) = plan.doorways
    assert plan.passes
    assert ramp.way == "ramp"
    assert ramp.rule is not None
    on = within(case, ramp.length_m)
    assert largest_m(case, plan, where=~on) <= RULE.gap_m + 1e-5
    around = within(case, ramp.length_m + ramp.rule.length_m)
    seen = largest_m(case, plan, where=around, work=ramp)
    assert seen <= ramp.rule.gap_m + 1e-5
    assert ramp.largest_m == pytest.approx(seen, abs=1e-9)
    assert ramp.slope <= DoorWays().ramp_slope + 1e-9
    assert np.sign(ramp.rise_m) == np.sign(north_mm)


@pytest.mark.parametrize("north_mm", [9.0, 16.0, -5.0])
def test_the_finished_floor_meets_the_door_at_the_end_of_its_ramp(north_mm: float) -> None:
    case, plan = planned(north_mm * 1e-3)
    top_mm = finished(case, plan)[within(case, 0.01)] * 1e3
    assert len(top_mm) > 3
    assert np.abs(top_mm - north_mm).max() <= HALF_M * 1e3 + 0.02


def test_a_floor_that_passes_stays_as_it_is_beside_its_ramp() -> None:
    case, plan = planned(0.009, slab=passing)
    (ramp,) = plan.doorways
    off = ~within(case, ramp.length_m)
    assert plan.plane is None
    assert not plan.fill[off].any()
    assert not plan.grind[off].any()
    assert plan.bags > 0
    assert plan.solve.objective > ramp.cost > 0.0


def test_where_ramps_are_dearer_there_are_never_more_of_them() -> None:
    counts, costs = [], []
    for hours in (0.0, 4.0, 64.0):
        _, plan = planned(0.006, replace(RAMPS_ALONE, ramp_ph=hours))
        counts.append(len(ramps(plan)))
        costs.append(plan.solve.objective)
    assert counts == sorted(counts, reverse=True)
    assert counts[0] > counts[-1] == 0
    assert costs == sorted(costs)


@pytest.mark.parametrize("north_mm", [3.0, 8.0, 14.0])
def test_what_is_allowed_never_makes_a_floor_dearer_and_no_bound_lies_above_it(north_mm: float) -> None:
    _, plain = planned(north_mm * 1e-3, None)
    free = made(north_mm * 1e-3, DoorWays(), lower_bound=True).plan()
    assert free.passes
    if plain.solve.status != "infeasible":
        assert free.solve.objective <= plain.solve.objective
    assert free.solve.bound <= free.solve.objective
    assert free.unrestricted is not None
    assert free.unrestricted.bound <= free.solve.objective
    ramped = made(north_mm * 1e-3, RAMPS_ALONE, lower_bound=True).plan()
    assert ramped.unrestricted is not None
    assert ramped.unrestricted.status == "optimal"
    assert ramped.unrestricted.bound <= ramped.solve.objective
    assert free.solve.objective <= ramped.solve.objective


def test_the_cheapest_floor_is_never_dearer_than_the_plane_with_its_ramps() -> None:
    (_, cheapest), (_, plane) = planned(0.012, alternate="cheapest"), planned(0.012)
    assert cheapest.alternate == "cheapest"
    assert plane.doorways
    assert cheapest.solve.bound <= cheapest.solve.objective <= plane.solve.objective


@pytest.mark.parametrize(("slab", "north_mm"), [(bowl, 9.0), (flat, 12.0)])
def test_ramps_lie_on_the_cheapest_floor_too_and_keep_their_rule_and_the_door(
    slab: Slab, north_mm: float
) -> None:
    """A floor of 24 m² that hardly needs anything beside its ramp is not brought to a plane for it."""
    case, plan = planned(north_mm * 1e-3, slab=slab, alternate="cheapest")
    _, plane = planned(north_mm * 1e-3, slab=slab)
    (ramp,) = plan.doorways
    assert ramp.way == "ramp"
    assert ramp.why.endswith("These are the costs of floors brought to planes.")
    assert plan.passes
    assert plan.solve.objective <= 0.6 * plane.solve.objective
    on, around = within(case, ramp.length_m), within(case, ramp.length_m + RAMP_RULE.length_m)
    assert largest_m(case, plan, where=~on) <= RULE.gap_m + 1e-5
    assert largest_m(case, plan, where=around, work=ramp) <= RAMP_RULE.gap_m + 1e-5
    top_mm = finished(case, plan)[within(case, 0.01)] * 1e3
    assert np.abs(top_mm - north_mm).max() <= HALF_M * 1e3 + 0.02


def test_what_is_poured_at_a_doorway_meets_it_without_a_ramp() -> None:
    """Pins stand at its threshold: pours straight between other pins lay a millimetre and a half below."""
    case = made(0.009, None)
    plan = case.plan("cheapest")
    assert plan.passes
    assert plan.plane is None
    assert plan.pours
    top_mm = finished(case, plan)[within(case, 0.01)] * 1e3
    assert np.abs(top_mm - 9.0).max() <= HALF_M * 1e3 + 0.02


@pytest.mark.parametrize("way", ["transition", "cut"])
def test_a_cheap_strip_or_a_saw_takes_what_it_can_and_the_range_says_so(way: str) -> None:
    ways = DoorWays(ramps=False, transitions=way == "transition", cuts=way == "cut")
    plan = made(-0.005, ways).plan()
    (work,) = plan.doorways
    assert work.way == way
    assert work.high_m == pytest.approx(
        build_up_m() - 0.005 + HALF_M + (ways.transition_m if way == "transition" else ways.cut_m)
    )
    assert work.person_hours == (ways.transition_ph if way == "transition" else ways.cut_ph)


def test_the_plan_says_in_words_what_the_door_got_and_what_else_would_cost() -> None:
    (work,) = made(0.012, DoorWays(cuts=False)).plan().doorways
    assert work.why.startswith("opening north: a ramp of 4' 0\" up to it by ")
    assert "leaving it as it is: no plan was found" in work.why
    assert "another transition costs" in work.why
    assert work.pointer == "/rooms/0/openings/1/threshold"


def test_a_door_out_of_reach_of_every_way_is_still_refused_with_its_name() -> None:
    plan = made(0.2, DoorWays()).plan()
    assert plan.solve.status == "infeasible"
    assert "opening north" in " ".join(problem.detail for problem in plan.problems)


def hall(misses_mm: tuple[float, ...]) -> Work:
    """A dished floor with doors along both long sides, each so much above the rim."""
    doors = []
    for k, miss in enumerate(misses_mm):
        x, y = 5.0 * (k % 2), 0.4 + 1.9 * (k // 2)
        finished = build_up_m() + miss * 1e-3
        ends = {"start": (x, y), "end": (x, y + 0.8)}
        doors.append(door(id=f"d{k}", **ends, low_m=finished - HALF_M, high_m=finished + HALF_M))
    floor = rectangle(width_m=5.0, length_m=10.0, openings=tuple(doors))
    return work(
        floor=floor,
        height_m=lambda x, y: -7e-3 * np.sin(np.pi * x / 5.0) * np.sin(np.pi * y / 10.0),
        columns=26,
        doorways=DoorWays(),
    )


def test_a_floor_with_many_doors_at_many_heights_gets_a_plan_that_meets_each() -> None:
    case = hall((0.0, 7.0, -4.0, 3.0, 5.0, -6.0, 2.0, -3.0, -8.0, 6.0))
    plan = case.plan()
    assert plan.passes, plan.problems
    assert plan.solve.bound <= plan.solve.objective
    height = finished(case, plan)
    changed = {work.opening: work for work in plan.doorways}
    assert len(changed) >= 5
    ys, step = case.surface.grid.ys(), case.surface.grid.step_m
    for room_door in case.floor.rooms[0].openings:
        assert room_door.threshold is not None
        low, high = room_door.threshold.low_m, room_door.threshold.high_m
        if room_door.id in changed:
            low, high = changed[room_door.id].low_m, changed[room_door.id].high_m
        column = 0 if room_door.start[0] == 0.0 else -1
        beside = (ys >= room_door.start[1] - step / 2) & (ys <= room_door.end[1] + step / 2)
        there = height[beside, column] + build_up_m()
        # Beside the door's very line a ramp or a tilt makes a little of a step's way.
        assert there.min() >= low - 0.01 * step
        assert there.max() <= high + 0.01 * step


@settings(max_examples=30, deadline=None)
@given(
    rises=st.lists(st.floats(-0.015, 0.015).filter(lambda rise: abs(rise) > 1e-4), min_size=1, max_size=40)
)
def test_the_choices_over_any_number_of_doors_are_few_and_change_each_door_at_most_once(
    rises: list[float],
) -> None:
    missed = tuple(Need(door=k, rise_m=rise) for k, rise in enumerate(rises))
    every = combinations(missed=missed, ways=DoorWays())
    assert 1 <= len(every) <= 63
    assert len(set(every)) == len(every)
    for one in every:
        doors = [chosen.door for chosen in one]
        assert doors == sorted(set(doors))
        assert all(rises[chosen.door] < 0.0 for chosen in one if chosen.way == "cut")
    assert max(len(one) for one in every) == len(rises)


@settings(max_examples=60, deadline=None)
@given(
    rise_mm=st.floats(-60.0, 60.0),
    hours=st.floats(0.0, 50.0),
    least=st.floats(0.3, 1.8),
    slope=st.floats(0.002, 0.05),
)
def test_no_ramp_is_steeper_shorter_or_longer_than_allowed_and_prices_change_no_choice(
    rise_mm: float, hours: float, least: float, slope: float
) -> None:
    ways = DoorWays(least_ramp_m=least, ramp_slope=slope, ramp_ph=hours)
    missed = (Need(door=0, rise_m=rise_mm * 1e-3),)
    every = combinations(missed=missed, ways=ways)
    assert every == combinations(missed=missed, ways=replace(ways, ramp_ph=0.0, transition_price=1e4))
    for (one,) in every:
        if one.way != "ramp":
            continue
        assert least - 1e-9 <= one.length_m <= ways.greatest_ramp_m + 1e-9
        assert abs(one.rise_m) <= slope * one.length_m + 1e-9
        assert one.rise_m * rise_mm >= 0.0


def test_a_ramp_is_straight_from_its_rise_to_nothing() -> None:
    steps = ramp_steps(away_m=np.array([0.0, 0.25, 0.5, 1.0]), length_m=1.0, rise_m=0.008)
    assert steps.tolist() == [800, 600, 400, 0]


def test_with_a_confidence_doorways_get_other_transitions_and_cuts_but_no_ramps() -> None:
    asked = Confidence(probability=0.8)
    plan = made(0.012, DoorWays(ramps=False), confidence=asked).plan()
    _, plain = planned(0.012, DoorWays(ramps=False))
    assert plan.passes
    assert plan.doorways
    assert {work.way for work in plan.doorways} <= {"transition", "cut"}
    assert plan.assurance is not None
    assert plan.assurance.chosen.reached
    assert plan.solve.objective >= plain.solve.objective - 1e-6
    with pytest.raises(ValueError, match="ramps"):
        made(0.012, DoorWays(), confidence=asked).plan()


def test_of_many_doors_the_words_say_that_not_all_choices_were_weighed() -> None:
    many, few = hall((9.0, -7.0, 8.0, -9.0)).plan(), hall((9.0, 0.0, 0.0, 0.0)).plan()
    assert len(many.doorways) > 2
    assert all("were weighed, not all" in work.why for work in many.doorways)
    assert few.doorways
    assert not any("not all" in work.why for work in few.doorways)


def measured_again(case: Work, plan: Plan, *, height: Ints, done: tuple[str, ...]) -> Plan:
    """The plan for what is left, with a reading in the room's middle."""
    one = np.ones((1, 3))
    spline = replace(
        case.surface.spline, obs_x_m=2.0 * one, obs_y_m=3.0 * one, obs_weight=one, obs_value_m=0.0 * one
    )
    before = EarlierPlan(plan=plan, began=case.surface.height, lift_m=FEATHERED.greatest_lift_m)
    standing = Standing(plans=(before,), done=done, keep_heights=True)
    surface = replace(case.surface, height=height.astype(np.int32), spline=spline)
    return replace(case, surface=surface, changes={**case.changes, "standing": standing}).plan()


def test_a_floor_with_its_ramp_made_needs_nothing_more_and_without_it_still_needs_the_same() -> None:
    case, plan = planned(0.012)
    began = case.surface.height
    done = measured_again(
        case, plan, height=began - plan.grind + plan.fill, done=tuple(sorted(work_ids(plan)))
    )
    assert done.solve.status == "not-needed"
    assert done.doorways == plan.doorways
    again = measured_again(case, plan, height=began, done=())
    assert again.passes
    assert np.array_equal(again.fill, plan.fill)
    assert again.doorways == plan.doorways


@pytest.mark.parametrize(("slab", "north_mm"), [(bowl, 9.0), (passing, -5.0)])
def test_no_narrower_alternate_comes_out_cheaper_and_each_meets_the_door(slab: Slab, north_mm: float) -> None:
    case, plane = planned(north_mm * 1e-3, slab=slab)
    for alternate in ("level", "grind-only", "fill-only"):
        plan = case.plan(alternate)
        if plan.solve.status == "infeasible":
            continue
        assert plane.solve.objective <= plan.solve.objective + 1e-6
        at_door_mm = finished(case, plan)[within(case, 0.01)] * 1e3
        assert np.abs(at_door_mm - north_mm).max() <= HALF_M * 1e3 + 0.4
        assert alternate != "grind-only" or not plan.fill.any()
        assert alternate != "fill-only" or not plan.grind.any()
