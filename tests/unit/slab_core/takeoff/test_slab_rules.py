"""Products have limits of their own: what breaks one blocks the quote or holds the work, what nobody measured
holds it too."""

from dataclasses import replace
from typing import Any

import pytest

from slab_core.errors import Problem
from slab_core.materials import starter
from slab_core.materials.model import Climate
from slab_core.materials.slab_limits_model import SlabLimits
from slab_core.numerics.budget import Budget
from slab_core.schedule.plan import schedule
from slab_core.schedule.starter import calendar as starter_calendar
from slab_core.takeoff.codes import TASK
from slab_core.takeoff.model import Hold, Site, SlabState, Takeoff
from tests.takeoff_jobs import whole_job
from tests.unit.slab_core.schedule.plans import CHICAGO, MONDAY

FIT = SlabState(
    humidity_percent=70.0,
    vapour_lb=2.0,
    ph=8.5,
    temperature_c=20.0,
    age_days=9000,
    profile=3,
    residue="none",
)
ADHESIVE, COMPOUND = starter.plain_adhesive(), starter.compound()


def _job(state: SlabState, *, climate: Climate = Climate(), **limits: SlabLimits) -> Takeoff:
    catalogue = starter.catalogue()
    changed: dict[str, Any] = {
        name: replace(getattr(catalogue, name), limits=limit) for name, limit in limits.items()
    }
    site = Site(built_year=1995, slab=state)
    return whole_job(site=site, catalogue=replace(catalogue, **changed), climate=climate)


def _problems(takeoff: Takeoff, code: str) -> list[Problem]:
    return [problem for problem in takeoff.problems if problem.code == code]


def _holds(takeoff: Takeoff, code: str) -> list[Hold]:
    return [hold for hold in takeoff.holds if hold.code == code]


def test_a_slab_within_every_limit_gives_neither_a_finding_nor_a_hold() -> None:
    takeoff = _job(FIT)
    assert not {p.code for p in takeoff.problems} & {h.code for h in _job(SlabState()).holds}
    assert takeoff.holds == ()


@pytest.mark.parametrize(
    ("field", "value", "code", "severity"),
    [
        ("humidity_percent", 75.1, "slab-too-humid", "refusal"),
        ("vapour_lb", 3.1, "slab-too-damp", "refusal"),
        ("ph", 9.1, "slab-ph", "finding"),
        ("temperature_c", 9.9, "slab-temperature", "finding"),
        ("temperature_c", 29.5, "slab-temperature", "finding"),
        ("profile", 2, "slab-profile", "finding"),
    ],
)
def test_what_breaks_a_limit_is_told_with_the_product_the_limit_and_what_to_do(
    field: str, value: float, code: str, severity: str
) -> None:
    takeoff = _job(replace(FIT, **{field: value}))
    (problem,) = _problems(takeoff, code)
    assert problem.severity == severity
    assert problem.pointer == f"/site/slab/{field}"
    assert "common practice" in problem.detail
    assert (ADHESIVE.name in problem.detail) or (COMPOUND.name in problem.detail)
    assert len(_holds(takeoff, code)) == 1


AIR = SlabLimits(least_air_temperature_c=15.0, most_air_humidity_percent=65.0, source="the glue's sheet")


@pytest.mark.parametrize(
    ("climate", "code", "pointer"),
    [
        (Climate(temperature_c=14.9), "air-temperature", "/climate/temperature_c"),
        (Climate(humidity=0.66), "air-humidity", "/climate/humidity"),
    ],
)
def test_air_outside_of_a_products_limits_holds_the_work_that_the_product_is_for(
    climate: Climate, code: str, pointer: str
) -> None:
    takeoff = _job(FIT, climate=climate, adhesive=AIR)
    (problem,) = _problems(takeoff, code)
    assert (problem.pointer, problem.severity) == (pointer, "finding")
    (hold,) = takeoff.holds
    assert (hold.code, hold.before, hold.source) == (code, ("spread",), "the glue's sheet")
    assert ADHESIVE.name in hold.rule


def test_air_that_just_keeps_the_limits_holds_nothing() -> None:
    assert _job(FIT, climate=Climate(temperature_c=15.0, humidity=0.65), adhesive=AIR).holds == ()


def test_where_a_maker_of_compound_says_nothing_of_the_air_common_practice_counts() -> None:
    cold = Climate(temperature_c=9.0)
    silent = _job(FIT, climate=cold, compound=SlabLimits(source="the bag"))
    (problem,) = _problems(silent, "air-temperature")
    assert "common practice" in problem.detail
    own = _job(FIT, climate=cold, compound=SlabLimits(least_air_temperature_c=5.0, source="the bag"))
    assert _problems(own, "air-temperature") == []


@pytest.mark.parametrize(
    ("state", "limits", "code", "limit"),
    [
        (replace(FIT, ph=9.1), ADHESIVE.limits, "slab-ph", "ph"),
        (replace(FIT, humidity_percent=80.0), ADHESIVE.limits, "slab-too-humid", "humidity"),
        (replace(FIT, residue="cutback"), ADHESIVE.limits, "residue-not-allowed", "residue"),
        (FIT, SlabLimits(not_with=(COMPOUND.id,)), "products-apart", "contact"),
    ],
)
def test_whether_a_broken_limit_blocks_or_holds_is_what_its_product_says(
    state: SlabState, limits: SlabLimits, code: str, limit: Any
) -> None:
    for blocks, severity in (((limit,), "refusal"), ((), "finding")):
        takeoff = _job(state, adhesive=replace(limits, blocks=blocks), compound=SlabLimits())
        (problem,) = _problems(takeoff, code)
        assert problem.severity == severity
        assert problem.detail.startswith("hold: ") is (severity == "finding")
        (hold,) = _holds(takeoff, code)
        assert "spread" in hold.before
        assert hold.rule.startswith(ADHESIVE.name)


@pytest.mark.parametrize(
    ("field", "value"), [("humidity_percent", 75.0), ("ph", 9.0), ("profile", 3), ("temperature_c", 10.0)]
)
def test_a_limit_that_is_just_kept_is_kept(field: str, value: float) -> None:
    assert _job(replace(FIT, **{field: value})).holds == ()


def test_an_age_below_the_least_holds_the_work_until_then() -> None:
    takeoff = _job(replace(FIT, age_days=20), adhesive=SlabLimits(least_age_days=28))
    (problem,) = _problems(takeoff, "slab-too-young")
    assert "20 days" in problem.detail
    assert "at least 28 days" in problem.detail


def test_what_nobody_measured_holds_the_work_that_it_matters_to_and_blocks_nothing() -> None:
    takeoff = _job(SlabState())
    assert all(problem.severity != "refusal" for problem in takeoff.problems)
    (humid,) = _holds(takeoff, "slab-too-humid")
    assert humid.before == ("spread",)
    assert "ASTM F2170" in humid.what
    assert "at most 75 %" in humid.rule
    (profile,) = _holds(takeoff, "slab-profile")
    assert profile.before == ("prime", "pour")


def test_a_residue_that_a_product_does_not_hold_on_blocks_the_quote_with_the_caution_on_asbestos() -> None:
    found = _problems(_job(replace(FIT, residue="cutback")), "residue-not-allowed")
    assert {problem.severity for problem in found} == {"refusal"}
    assert len(found) == 2  # compound and adhesive
    assert all("asbestos" in problem.detail for problem in found)


def test_a_residue_that_nobody_looked_for_holds_each_product_that_has_a_limit_and_blocks_nothing() -> None:
    takeoff = _job(replace(FIT, residue=None))
    assert not _problems(takeoff, "residue-not-allowed")
    held = {hold.before: hold.rule for hold in takeoff.holds}
    assert {hold.code for hold in takeoff.holds} == {"residue-unknown"}
    assert set(held) == {("prime", "pour"), ("spread",)}
    assert held["spread",] == f"{ADHESIVE.name}: not on cutback or curing compound or paint"
    free = replace(ADHESIVE.limits, not_on=())
    assert _job(replace(FIT, residue=None), adhesive=free, compound=SlabLimits()).holds == ()


def test_products_that_must_not_touch_block_the_quote_whichever_of_the_two_says_so() -> None:
    for names in (("compound", "adhesive"), ("adhesive", "compound")):
        other = getattr(starter.catalogue(), names[1]).id
        (problem,) = _problems(_job(FIT, **{names[0]: SlabLimits(not_with=(other,))}), "products-apart")
        assert problem.severity == "refusal"
        assert COMPOUND.name in problem.detail
        assert ADHESIVE.name in problem.detail


def test_a_product_that_the_job_does_not_take_asks_for_nothing() -> None:
    assert _job(FIT, patch=SlabLimits(least_profile=9)).holds == ()


def test_holds_name_only_kinds_of_work_that_there_are_and_stand_in_the_plan_before_them() -> None:
    takeoff = _job(SlabState())
    assert {code for hold in takeoff.holds for code in hold.before} <= set(TASK)
    catalogue = starter.catalogue()
    plan = schedule(
        takeoff=takeoff, rates=starter.rates(), climate=Climate(), compound=catalogue.compound,
        primer=catalogue.primer, adhesive=catalogue.adhesive, calendar=starter_calendar(time_zone=CHICAGO),
        earliest_start=MONDAY, budget=Budget(),
    )  # fmt: skip
    code_of = {activity.id: activity.code for activity in plan.activities}
    assert len(plan.holds) == len(takeoff.holds)
    for hold in plan.holds:
        asked = next(one for one in takeoff.holds if (one.code, one.rule) == (hold.code, hold.rule))
        starts = [
            place.start_minute
            for place, activity in zip(plan.placed, plan.activities, strict=True)
            if activity.code in asked.before
        ]
        assert hold.by_minute == min(starts)
        assert code_of[hold.activity] in asked.before
