"""The plan for what is left after another survey: of nothing, a part or all of what was planned, and more."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.correction.assurance_model import AssuredPrice
from slab_core.correction.model import Limits, Plan
from slab_core.correction.resurvey.hours import COMPOUND_SHARE
from slab_core.correction.resurvey.standing import (
    EarlierPlan,
    Followed,
    Standing,
    done_work,
    known_work,
    work_ids,
)
from slab_core.correction.resurvey.works import works_of
from slab_core.errors import InputRefused
from slab_core.materials import starter
from slab_core.numerics.grid import ERROR_STEP_M, Ints
from slab_core.rooms.model import Floor, KeepOut, Ring
from slab_core.surface.model import Surface
from slab_core.surveys.model import Survey
from tests.invented_floors import LIFTED, Work, rectangle, work
from tests.sample_jobs import hump_and_hollow

MM = 100
"""Storage steps of a millimetre."""


@cache
def first() -> tuple[Work, Plan]:
    """A hump to grind and a hollow to pour, and the plan for them."""
    job = work(
        floor=rectangle(width_m=6.0, length_m=5.0), height_m=hump_and_hollow, columns=60, compound=LIFTED
    )
    return job, job.plan()


def earlier(job: Work, plan: Plan) -> EarlierPlan:
    return EarlierPlan(plan=plan, began=job.surface.height, lift_m=LIFTED.greatest_lift_m)


def measured(surface: Surface, height: Ints) -> Surface:
    """The slab at other heights, with a reading at every tenth node."""
    x, y = surface.grid.places()[::10].T
    spline = replace(
        surface.spline,
        obs_x_m=np.repeat(x[:, None], 3, axis=1),
        obs_y_m=np.repeat(y[:, None], 3, axis=1),
        obs_weight=np.tile([1.0, 0.0, 0.0], (len(x), 1)),
    )
    return replace(surface, height=height.astype(np.int32), spline=spline)


def left(height: Ints, *done: str, keep_heights: bool = True, floor: Floor | None = None) -> Plan:
    """The plan once the slab stands at these heights; `done` are names of work."""
    job, plan = first()
    standing = Standing(plans=(earlier(job, plan),), done=tuple(done), keep_heights=keep_heights)
    again = Work(
        floor=floor or job.floor,
        surface=measured(job.surface, height),
        changes={**job.changes, "standing": standing},
    )
    return again.plan()


def grinding() -> tuple[str, ...]:
    return tuple(area.id for area in first()[1].grind_areas)


def pours() -> tuple[str, ...]:
    return tuple(pour.id for pour in first()[1].pours)


def began() -> Ints:
    return first()[0].surface.height


def test_the_first_plan_grinds_and_pours() -> None:
    _, plan = first()
    assert plan.passes
    assert len(plan.pours) > 1
    assert plan.grind_m3 > 0.001


def test_a_slab_that_shows_what_was_planned_leaves_nothing_to_do() -> None:
    _, plan = first()
    now = left(began() - plan.grind + plan.fill, *grinding(), *pours())
    assert (now.solve.status, now.bags, now.grind_m3, now.fill_m3) == ("not-needed", 0, 0.0, 0.0)
    assert now.passes
    assert now.progress is not None
    for one in now.progress.works:
        assert one.reached_m3 == pytest.approx(one.planned_m3)
        for off in (one.highest, one.lowest, *one.pins):
            assert off is None or off.off_m == pytest.approx(0.0, abs=1e-9)
    assert now.progress.done.bags == plan.bags
    assert now.progress.done.grinder_hours == pytest.approx(plan.grinder_hours)


def test_an_untouched_slab_leaves_the_first_plan() -> None:
    _, plan = first()
    now = left(began())
    assert np.array_equal(now.grind, plan.grind)
    assert np.array_equal(now.fill, plan.fill)
    assert work_ids(now) == work_ids(plan)
    for pour, planned in zip(now.pours, plan.pours, strict=True):
        assert (pour.id, pour.lift, pour.bags, pour.outline) == (
            planned.id, planned.lift, planned.bags, planned.outline
        )  # fmt: skip
        assert pour.volume_m3 == pytest.approx(planned.volume_m3)
        for pin, before in zip(pour.pins, planned.pins, strict=True):
            assert (pin.at, pin.height_m, pin.walls) == (before.at, before.height_m, before.walls)
            assert pin.above_slab_m == pytest.approx(before.above_slab_m)
    assert (now.bags, now.pour_days) == (plan.bags, plan.pour_days)
    assert now.grinder_hours == pytest.approx(plan.grinder_hours)
    assert now.solve.objective == pytest.approx(plan.solve.objective)
    assert now.progress is not None
    assert all(not one.done and one.reached_m3 == 0.0 for one in now.progress.works)


@settings(max_examples=12, deadline=None)
@given(share=st.floats(0.0, 1.0))
def test_what_is_ground_off_is_reached_and_the_rest_is_left(share: float) -> None:
    """Of the grinding that pours do not need, so much of the hump as still breaks the rule is left."""
    _, plan = first()
    off = np.rint(plan.grind * share).astype(np.int32)
    now = left(began() - off, *grinding())
    assert now.passes
    assert now.progress is not None
    ground = [one for one in now.progress.works if one.kind == "grind"]
    planned, reached = (sum(getattr(one, name) for one in ground) for name in ("planned_m3", "reached_m3"))
    assert reached == pytest.approx(share * planned, abs=0.02 * planned)
    assert sum(one.left_grind_m3 for one in ground) <= planned - reached + 0.02 * planned


def test_half_of_every_depth_leaves_about_half_of_the_grinding_and_of_the_fill() -> None:
    _, plan = first()
    half_ground = began() - plan.grind // 2
    now = left(half_ground)  # nothing is called done, so all goes on to its height
    assert now.grind_m3 == pytest.approx(plan.grind_m3 / 2, rel=0.02)
    after = left(began() - plan.grind + plan.fill // 2, *grinding())
    deep = plan.fill > 8 * MM  # where half of it is more than the least lift
    assert after.fill[deep].sum() == pytest.approx(plan.fill[deep].sum() / 2, rel=0.01)


def test_one_pour_done_leaves_the_others_in_their_bays_to_their_pins() -> None:
    _, plan = first()
    done, *rest = plan.pours
    now = left(_with_pour(done.id), *grinding(), done.id)
    assert [pour.id for pour in now.pours] == [pour.id for pour in rest]
    assert [pour.bags for pour in now.pours] == [pour.bags for pour in rest]
    for pour, before in zip(now.pours, rest, strict=True):
        assert [pin.height_m for pin in pour.pins] == [pin.height_m for pin in before.pins]
    assert now.progress is not None
    assert now.progress.done.bags == done.bags
    assert now.progress.left.bags == plan.bags - done.bags


def test_ground_too_deep_is_told_with_its_place_and_filled_only_where_a_rule_asks_for_it() -> None:
    _, plan = first()
    a_hair, a_hole = (
        began() - np.where(plan.grind > MM, plan.grind + deep, plan.grind) for deep in (MM, 9 * MM)
    )
    lightly, badly = left(a_hair, *grinding()), left(a_hole, *grinding())
    planned = [one.id for one in plan.pours]
    assert [one.id for one in lightly.pours] == planned
    assert not lightly.patches
    assert badly.patches or len(badly.pours) > len(planned)
    assert badly.passes
    problem = next(one for one in badly.problems if one.code == "ground-too-deep")
    assert "from wall" in problem.detail
    assert badly.progress is not None
    worst = min(one.lowest.off_m for one in badly.progress.works if one.lowest)
    assert worst == pytest.approx(-0.009, abs=0.0005)


def test_a_pour_that_stands_too_high_is_told_at_its_pins_and_ground_as_compound() -> None:
    _, plan = first()
    height = began() - plan.grind + plan.fill
    proud = height + np.where(plan.fill > 5 * MM, 8 * MM, 0)
    now = left(proud, *grinding(), *pours())
    assert now.passes
    assert now.grind_m3 > 0.0
    assert all(area.id.startswith("floor-1-round2-") for area in now.grind_areas)
    assert "filled-too-high" in {one.code for one in now.problems}
    assert now.progress is not None
    offs = [pin.off_m for one in now.progress.works for pin in one.pins]
    assert max(offs) == pytest.approx(0.008, abs=1e-5)
    concrete = left(began() + np.where(plan.fill > 5 * MM, plan.fill + 8 * MM, 0), *grinding())
    per_litre, on_slab = (
        (one.grinder_hours + one.hand_grinder_hours) / one.grind_m3 for one in (now, concrete)
    )
    assert per_litre < 0.7 * on_slab
    assert 0.3 <= COMPOUND_SHARE <= 0.4  # common practice, no single source


def test_heights_that_need_not_be_kept_are_chosen_anew_where_that_costs_less() -> None:
    _, plan = first()
    lower = began() - np.where(plan.grind > MM, plan.grind + 3 * MM, plan.grind)
    kept = left(lower, *grinding())
    free = left(lower, *grinding(), keep_heights=False)
    assert kept.progress is not None
    assert free.progress is not None
    assert kept.progress.heights_kept
    assert free.passes
    assert free.solve.objective <= kept.solve.objective
    if not free.progress.heights_kept:
        assert all(id.startswith("floor-1-round2-") for id in work_ids(free))


def test_heights_that_ask_for_grinding_beyond_the_limit_are_refused_where_no_others_do() -> None:
    """Readings of the ground places in a datum 50 mm higher."""
    _, plan = first()
    now = left(began() - plan.grind + np.where(plan.grind > 0, 50 * MM, 0), *grinding())
    assert not now.passes
    (refused,) = [one for one in now.problems if one.severity == "refusal"]
    assert refused.code == "grinding-beyond-limit"
    for said in ('1/4"', "6.4 mm", "50.0 mm", "datum of the first ones", "change the limits"):
        assert said in refused.detail


def test_heights_beyond_the_limit_are_let_go_where_others_pass_and_the_crew_is_told() -> None:
    """The whole slab in a datum 50 mm higher: what is left of it can be done on heights of its own."""
    _, plan = first()
    now = left(began() - plan.grind + 50 * MM, *grinding())
    assert now.passes
    assert now.greatest_grind_m <= 0.00635
    assert now.progress is not None
    assert not now.progress.heights_kept
    (told,) = [one for one in now.problems if one.code == "heights-let-go"]
    assert "pins that were set for that plan count no more" in told.detail
    assert "grinding of" in told.detail


def test_compound_may_be_ground_deeper_than_the_slab_but_not_by_any_depth() -> None:
    """8 mm too much compound is taken off again; 50 mm is more than lies there."""
    _, plan = first()
    planned, deep = began() - plan.grind + plan.fill, plan.fill > 5 * MM
    proud, absurd = (left(planned + np.where(deep, up, 0), *grinding(), *pours()) for up in (8 * MM, 50 * MM))
    assert proud.greatest_grind_m > 0.00635
    assert proud.passes
    assert "grinding-beyond-limit" not in {one.code for one in proud.problems}
    assert not absurd.passes
    assert "grinding-beyond-limit" in {one.code for one in absurd.problems if one.severity == "refusal"}


def test_a_limit_that_is_crossed_by_less_than_the_readings_tell_is_a_finding_and_keeps_the_heights() -> None:
    job, plan = first()
    limit = Limits(greatest_grind_m=plan.greatest_grind_m - 0.0003)
    now = []
    for sd in (0.0, 0.0005):
        error = np.full_like(job.surface.error, round(sd / ERROR_STEP_M))
        standing = Standing(plans=(earlier(job, plan),), done=(), keep_heights=True)
        again = Work(
            floor=job.floor,
            surface=replace(measured(job.surface, began()), error=error),
            changes={**job.changes, "standing": standing, "limits": limit},
        )
        now.append(again.plan())
    sure, unsure = now
    assert "heights-let-go" in {one.code for one in sure.problems}
    assert unsure.passes
    assert unsure.progress is not None
    assert unsure.progress.heights_kept
    assert {one.code: one.severity for one in unsure.problems}["grinding-beyond-limit"] == "finding"


def test_once_anything_is_poured_the_heights_stay() -> None:
    _, plan = first()
    done = plan.pours[0]
    now = left(_with_pour(done.id), *grinding(), done.id, keep_heights=False)
    assert now.progress is not None
    assert now.progress.heights_kept


def test_finishing_that_was_sold_stays_until_nothing_is_left_and_no_probability_is_told_beside_it() -> None:
    job, plan = first()
    sold = AssuredPrice(
        asked=0.8, reached=True, probability=0.91, probability_se=0.01, planning_share=1.0, finish_cycles=1,
        finish_cost=300.0, cost=2000.0, finish_patch_m3=0.004,
    )  # fmt: skip
    followed = earlier(job, replace(plan, finish_kept=sold))
    for height, done, kept in (
        (began(), (), sold),
        (began() - plan.grind + plan.fill, (*grinding(), *pours()), None),
    ):
        standing = Standing(plans=(followed,), done=done, keep_heights=True)
        changes = {**job.changes, "standing": standing}
        made = Work(floor=job.floor, surface=measured(job.surface, height), changes=changes).plan()
        assert made.finishing() == kept
        said = [problem.detail for problem in made.problems if problem.code == "probability-not-told"]
        assert len(said) == (kept is not None)
        assert all("91%" in detail and "1 round(s) of finishing" in detail for detail in said)


def test_another_grid_than_that_of_the_plan_is_refused() -> None:
    job, plan = first()
    other = work(
        floor=job.floor, height_m=hump_and_hollow, columns=40, compound=LIFTED,
        standing=Standing(plans=(earlier(job, plan),), done=(), keep_heights=True),
    )  # fmt: skip
    with pytest.raises(InputRefused) as refused:
        other.plan()
    assert refused.value.problems[0].code == "floor-other-than-planned"
    assert refused.value.problems[0].pointer == "/follows/estimate"


def test_work_of_earlier_rounds_need_not_be_named_again() -> None:
    job, plan = first()
    again = left(began() - plan.grind // 2, *grinding())
    followed = Followed(estimate="second", plans=(earlier(job, plan), earlier(job, again)), readings=1)
    surveys = (
        Survey(id="before"),
        Survey(id="after grinding", after=("floor-1-grinding",)),
        Survey(id="after the rest", after=("floor-1-round2-grinding",)),
    )
    before, ground, rest = known_work(surveys=surveys, followed=followed)
    assert before == frozenset()
    assert ground == frozenset(grinding())
    assert ground < rest
    assert done_work(surveys=surveys, followed=followed) == rest


def test_a_hard_slab_slows_no_grinding_of_compound() -> None:
    _, plan = first()
    job, _ = first()
    proud = began() - plan.grind + plan.fill + np.where(plan.fill > 5 * MM, 8 * MM, 0)
    hours = []
    for hardness in ("ordinary", "hard"):
        standing = Standing(plans=(earlier(job, plan),), done=(*grinding(), *pours()), keep_heights=True)
        changes = {**job.changes, "standing": standing, "hardness": hardness}
        again = Work(floor=job.floor, surface=measured(job.surface, proud), changes=changes).plan()
        on_compound = np.where(plan.fill > 0, again.grind, 0).sum() / again.grind.sum()
        assert on_compound > 0.99
        hours.append(again.grinder_hours)
    assert starter.rates().hardness_factors["hard"] > 1.2
    assert hours[1] == pytest.approx(hours[0], rel=0.05)


def _with_pour(id: str) -> Ints:
    """All ground as planned and one pour placed."""
    job, plan = first()
    (mine,) = [one for one in works_of(earlier(job, plan)) if one.id == id]
    return np.asarray(began() - plan.grind + mine.depth, dtype=np.int32)


@cache
def in_two_lifts() -> tuple[Work, Plan, EarlierPlan]:
    """A slab 27.5 mm low under a compound of which 26 mm are poured at once."""
    compound = replace(LIFTED, greatest_lift_m=0.026)
    job = work(
        floor=rectangle(width_m=4.0, length_m=5.0),
        height_m=lambda x, y: -0.0275 * np.clip((y - 1.0) / 0.8, 0, 1) * np.clip((4.5 - y) / 0.5, 0, 1),
        columns=40,
        compound=compound,
    )
    plan = job.at(height_m=0.004)
    before = EarlierPlan(
        plan=plan, began=job.surface.height, lift_m=compound.greatest_lift_m, least_m=compound.least_lift_m
    )
    return job, plan, before


def left_of_lifts(height: Ints, *done: str) -> Plan:
    job, _, before = in_two_lifts()
    standing = Standing(plans=(before,), done=done, keep_heights=True)
    changes = {**job.changes, "standing": standing}
    return Work(floor=job.floor, surface=measured(job.surface, height), changes=changes).plan()


def test_lifts_of_a_bay_share_its_fill_and_each_knows_what_lies_under_it() -> None:
    _, plan, before = in_two_lifts()
    assert {pour.lift for pour in plan.pours} == {1, 2}
    lifts = [one for one in works_of(before) if one.kind == "pour"]
    assert (sum(one.depth for one in lifts) == plan.fill).all()
    upper = [one for one in lifts if one.id.endswith("lift2")]
    lower = [one for one in lifts if one.id.endswith("lift1")]
    assert (sum(one.under for one in upper) == sum(one.depth for one in lower)).all()


def test_where_no_lift_is_in_both_are_left_with_their_pins() -> None:
    job, plan, _ = in_two_lifts()
    now = left_of_lifts(job.surface.height)
    assert [(p.id, p.bags, p.below_m) for p in now.pours] == [(p.id, p.bags, p.below_m) for p in plan.pours]
    for pour, planned in zip(now.pours, plan.pours, strict=True):
        assert [pin.above_slab_m for pin in pour.pins] == pytest.approx(
            [p.above_slab_m for p in planned.pins]
        )


def test_where_the_lower_lift_is_in_only_the_upper_is_left() -> None:
    job, plan, before = in_two_lifts()
    lower = [one for one in works_of(before) if one.id.endswith("lift1")]
    height = job.surface.height - plan.grind + sum(one.depth for one in lower)
    done = (*(area.id for area in plan.grind_areas), *(one.id for one in lower))
    now = left_of_lifts(height, *done)
    upper = [pour for pour in plan.pours if pour.lift == 2]
    assert [(pour.id, pour.bags) for pour in now.pours] == [(pour.id, pour.bags) for pour in upper]
    assert now.patches == ()


def test_done_work_that_nobody_read_is_not_called_wrong() -> None:
    _, plan = first()
    deep = began() - np.where(plan.grind > MM, plan.grind + 9 * MM, plan.grind)
    job, _ = first()
    standing = Standing(plans=(earlier(job, plan),), done=grinding(), keep_heights=True)
    unread = measured(job.surface, deep)
    nowhere = np.zeros_like(unread.spline.obs_weight)
    unread = replace(unread, spline=replace(unread.spline, obs_weight=nowhere))
    again = Work(floor=job.floor, surface=unread, changes={**job.changes, "standing": standing}).plan()
    codes = {one.code for one in again.problems}
    assert "done-work-unread" in codes
    assert "ground-too-deep" not in codes


def test_nothing_is_done_in_a_keep_out_zone_that_was_drawn_since() -> None:
    """One over the hump, and one in the hollow where nothing is filled either."""
    job, plan = first()
    pipes = KeepOut(id="pipes", reason="tendons", outline=square(1.6, 3.4, half_m=0.4))
    drain = KeepOut(id="drain", reason="outlet", outline=square(4.2, 1.5, half_m=0.1), fills=False)
    room = replace(job.floor.rooms[0], keep_outs=(pipes, drain))
    now = left(began(), floor=replace(job.floor, rooms=(room,)))
    x, y = np.meshgrid(plan.grid.xs(), plan.grid.ys())
    on_pipes = (np.abs(x - 1.6) <= 0.4) & (np.abs(y - 3.4) <= 0.4)
    on_drain = (np.abs(x - 4.2) <= 0.1) & (np.abs(y - 1.5) <= 0.1)
    assert plan.grind[on_pipes].max() > 100
    assert plan.fill[on_drain].max() > 100
    assert not now.grind[on_pipes].any()
    assert not now.fill[on_drain].any()
    assert not now.grind[on_drain].any()
    assert np.array_equal(now.fill[x > 4.5], plan.fill[x > 4.5])


def square(x: float, y: float, *, half_m: float) -> Ring:
    return tuple((x + a * half_m, y + b * half_m) for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1)))


def test_where_the_slab_turns_out_to_need_one_lift_that_is_the_last_one_and_ends_at_the_floor() -> None:
    job, plan, _ = in_two_lifts()
    now = left_of_lifts(job.surface.height + 6 * MM)
    assert [pour.id for pour in now.pours] == [pour.id for pour in plan.pours if pour.lift == 2]
    assert [pour.below_m for pour in now.pours] == [0.0] * len(now.pours)
    for pour in now.pours:
        assert [pin.height_m for pin in pour.pins] == pytest.approx([0.004] * len(pour.pins), abs=1e-5)


def test_a_lift_more_than_was_planned_has_a_new_name() -> None:
    job, plan, before = in_two_lifts()
    lower = [one for one in works_of(before) if one.id.endswith("lift1")]
    done = (*(area.id for area in plan.grind_areas), *(one.id for one in lower))
    now = left_of_lifts(job.surface.height - plan.grind, *done)
    names = [pour.id for pour in now.pours]
    assert len(names) == len(set(names)) > len(lower)
    assert set(names).isdisjoint(done)
    assert sum(pour.volume_m3 for pour in now.pours) == pytest.approx(plan.fill_m3, rel=1e-3)
