"""Rules with ramps: where each is checked, and how surely all of them are kept together."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.correction.assurance.floors import planned
from slab_core.correction.assurance.missed import finer_of, missed
from slab_core.correction.assurance.odds import Odds, odds
from slab_core.correction.assurance.site import Site, site_of, with_ramps_of
from slab_core.correction.assurance_model import Confidence, PlacingErrors
from slab_core.correction.maker import Maker
from slab_core.correction.model import Plan
from slab_core.correction.ramps_model import RAMP_RULE
from slab_core.numerics.budget import Budget
from slab_core.stages import PLANE
from tests.invented_floors import RULE, Work
from tests.unit.slab_core.correction.ramps import rooms_with_doors as rooms

HIGH_M = 0.012
USUAL = PlacingErrors()
ROUGH, ROUGHER = (
    replace(
        USUAL, screeded_m=n * USUAL.screeded_m, ground_m=n * USUAL.ground_m, patched_m=n * USUAL.patched_m,
        ripple_m=n * USUAL.ripple_m,
    )
    for n in (2.0, 3.0)
)  # fmt: skip
"""Crews so rough that ramps break their rule now and then."""

OF_PLANS = {"doorways", "confidence"}


def _site(case: Work, *, placing: PlacingErrors = USUAL) -> Site:
    of_task = {name: value for name, value in case.changes.items() if name not in OF_PLANS}
    task = replace(case, changes=of_task).task()
    return site_of(task=task, placing=placing, lengths_m=(RULE.length_m,))


def _odds(site: Site, plan: Plan, *, cycles: int, seed: int = 9, count: int = 1000) -> Odds:
    own = with_ramps_of(plan, site=site)
    return odds(
        site=own, plan=planned(site=site, plan=plan), count=count, cycles=cycles,
        missed=missed(site=own, finer=finer_of(site), plan=plan, budget=Budget()),
        rng=np.random.default_rng(seed), budget=Budget(),
    )  # fmt: skip


def test_without_ramps_a_plan_is_checked_by_the_rules_of_its_floor_alone() -> None:
    case, plan = rooms.planned(0.0)
    site = _site(case)
    assert plan.doorways == ()
    assert with_ramps_of(plan, site=site) is site


def test_edges_of_the_floors_rule_keep_off_a_ramp_and_its_own_rule_holds_on_it_and_around() -> None:
    case, plan = rooms.planned(HIGH_M)
    (ramp,) = plan.doorways
    site = _site(case)
    own, ramps = with_ramps_of(plan, site=site).checks
    on = site.on.of(rooms.within(case, ramp.length_m))
    near = site.on.of(rooms.within(case, ramp.length_m + RAMP_RULE.length_m))
    assert own.rule == RULE
    assert np.array_equal(own.on.inside, site.on.inside & ~on)
    assert ramps.rule == RAMP_RULE
    assert not (ramps.on.inside & ~near).any()
    assert (ramps.on.inside & on).sum() == (site.on.inside & on).sum()


def test_a_crew_without_error_keeps_the_rules_that_the_plan_keeps() -> None:
    case, plan = rooms.planned(HIGH_M)
    exact = PlacingErrors(screeded_m=0.0, ground_m=0.0, patched_m=0.0, free_m=0.0, ripple_m=0.0, gauge_m=0.0)
    found = _odds(_site(case, placing=exact), plan, cycles=0, count=4)
    assert found.over_m.shape == (4, 1, 2)
    assert found.probability(0) == 1.0
    (ramp,) = plan.doorways
    assert found.over_m[:, 0, 1] == pytest.approx(ramp.largest_m - RAMP_RULE.gap_m, abs=2e-5)


def test_a_ramp_is_one_more_thing_to_keep() -> None:
    case, plan = rooms.planned(HIGH_M)
    found = _odds(_site(case, placing=ROUGHER), plan, cycles=0)
    floor_alone = replace(found, over_m=found.over_m[:, :, :1], unsure_m=found.unsure_m[:1])
    assert 0.0 < found.probability(0) < floor_alone.probability(0)


def test_with_a_confidence_floor_and_ramp_pass_as_surely_as_said_on_other_draws() -> None:
    case = rooms.made(HIGH_M, confidence=Confidence(probability=0.8, placing=ROUGH))
    plan = case.plan()
    assert plan.assurance is not None
    chosen = plan.assurance.chosen
    (ramp,) = plan.doorways
    assert ramp.way == "ramp"
    assert ramp.rule == RAMP_RULE
    assert ramp.passes
    assert plan.passes
    assert chosen.reached
    assert chosen.probability < 1.0
    found = _odds(_site(case, placing=ROUGH), plan, cycles=chosen.finish_cycles)
    assert found.probability(chosen.finish_cycles) == pytest.approx(chosen.probability, abs=0.03)
    assert plan.solve.objective >= rooms.planned(HIGH_M)[1].solve.objective - 1e-6


def test_planned_to_a_share_of_its_rule_a_ramp_keeps_that_and_is_told_by_the_rule_itself() -> None:
    case, plan = rooms.planned(HIGH_M)
    maker = Maker(
        alternate=PLANE, doorways=rooms.RAMPS_ALONE, labour_per_ph=50.0, spare_bag=40.0, budget=Budget()
    )
    tighter = maker.made(_site(case).task, case.report(), ramp_share=0.3).finished()
    (ramp,) = tighter.doorways
    assert plan.doorways[0].largest_m > 0.3 * RAMP_RULE.gap_m
    assert ramp.largest_m <= 0.3 * RAMP_RULE.gap_m + 1e-5
    assert ramp.rule == RAMP_RULE
    assert ramp.passes
