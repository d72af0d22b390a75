"""Doorways that the floor does not meet get what costs least: a ramp, another transition, a cut door, or the
whole floor brought to them."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.correction.assurance_model import Confidence
from slab_core.correction.model import Plan
from slab_core.correction.ramps.ramped import ramp_steps
from slab_core.correction.ramps_model import RAMP_RULE, DoorWays
from slab_core.correction.resurvey.standing import EarlierPlan, Standing, work_ids
from slab_core.numerics.grid import Ints
from tests.invented_floors import FEATHERED, RULE, Work, build_up_m
from tests.unit.slab_core.correction.ramps.rooms_with_doors import (
    HALF_M,
    RAMPS_ALONE,
    Slab,
    bowl,
    finished,
    flat,
    largest_m,
    made,
    passing,
    planned,
    ramps,
    within,
)


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


def test_a_ramp_is_straight_from_its_rise_to_nothing() -> None:
    steps = ramp_steps(away_m=np.array([0.0, 0.25, 0.5, 1.0]), length_m=1.0, rise_m=0.008)
    assert steps.tolist() == [800, 600, 400, 0]


def test_with_a_confidence_doorways_get_what_they_may_and_it_costs_no_less() -> None:
    asked = Confidence(probability=0.8)
    plan = made(0.012, DoorWays(ramps=False), confidence=asked).plan()
    _, plain = planned(0.012, DoorWays(ramps=False))
    assert plan.passes
    assert plan.doorways
    assert {work.way for work in plan.doorways} <= {"transition", "cut"}
    assert plan.assurance is not None
    assert plan.assurance.chosen.reached
    assert plan.solve.objective >= plain.solve.objective - 1e-6


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
