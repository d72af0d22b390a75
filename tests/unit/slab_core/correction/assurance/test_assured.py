"""How surely a corrected floor passes: on floors whose truth is known, and on draws that chose nothing."""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest

from slab_core.correction.assurance import odds as assurance_odds
from slab_core.correction.assurance.assured import Draws, assured
from slab_core.correction.assurance.causes import Held, not_reached
from slab_core.correction.assurance.floors import planned
from slab_core.correction.assurance.missed import finer_of, missed
from slab_core.correction.assurance.odds import Odds, odds
from slab_core.correction.assurance.site import site_of
from slab_core.correction.assurance_model import AssuredPrice, Confidence, PlacingErrors
from slab_core.correction.model import Plan
from slab_core.correction.pending import Pending, as_it_is
from slab_core.correction.plan import plan
from slab_core.correction.task import Task
from slab_core.materials import starter
from slab_core.numerics.budget import Budget, Stopped
from slab_core.numerics.grid import Floats, to_metres
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import SurfaceOptions
from slab_core.tolerance.check import check_heights
from slab_core.tolerance.model import Rule, ToleranceReport
from tests.crews import built_m, true_heights_m
from tests.invented_floors import FEATHERED, FILM_M, Work, rectangle, trough, work
from tests.real_slabs import RealSlab, read_by_crew, real_slab
from tests.slabs import Slab

FOOT, INCH = 0.3048, 0.0254
LABOUR = starter.planning_costs().labour_per_ph
USUAL = PlacingErrors()
FEW = Draws(choosing=100, judging=100)
EXACT = PlacingErrors(screeded_m=0.0, ground_m=0.0, patched_m=0.0, free_m=0.0, ripple_m=0.0)


@dataclass(frozen=True, kw_only=True)
class Case:
    """A floor with its survey, ready to be planned under one set of rules."""

    real: RealSlab | None
    work: Work
    task: Task
    report: ToleranceReport

    def make(self, task: Task, report: ToleranceReport) -> Plan:
        return plan(
            floor=task.floor, surface=task.surface, report=report, budget=Budget(),
            **{**self.work._values(), "rules": task.rules, "limits": task.limits},
        )  # fmt: skip

    def pending(self, task: Task, report: ToleranceReport, _beat: float, _share: float) -> Pending:
        return as_it_is(self.make(task, report))

    def assured(
        self,
        probability: float,
        *,
        placing: PlacingErrors = USUAL,
        draws: Draws = FEW,
        labour: float = LABOUR,
    ) -> Plan:
        return assured(
            task=self.task, report=self.report, make=self.pending, labour_per_ph=labour, budget=Budget(),
            asked=Confidence(probability=probability, placing=placing), draws=draws,
        )  # fmt: skip


def _case(job: Work, real: RealSlab | None) -> Case:
    task = job.task()
    return Case(real=real, work=job, task=task, report=job.report())


@cache
def _measured(
    seed: int, rules: tuple[Rule, ...], *, share: float = 1.0, sd_m: float = 0.0007, count: int = 80
) -> Case:
    rng = np.random.default_rng(seed)
    real = real_slab(rng=rng, width_m=3.0, depth_m=4.0)
    whole = real.slab.height
    flatter = Slab(floor=real.slab.floor, height=lambda x, y: np.asarray(share * whole(x, y)))
    real = replace(real, slab=flatter)
    readings = read_by_crew(real=real, count=count, rng=rng, sd_m=sd_m)
    surface = fit_surface(
        floor=real.slab.floor, observations=readings, options=SurfaceOptions(grid_step_m=0.1), budget=Budget()
    )
    changes = {"rules": rules, "compound": FEATHERED, "adhesive_film_m": FILM_M}
    return _case(Work(floor=real.slab.floor, surface=surface, changes=changes), real)


def _rule(feet: float, inches: float) -> Rule:
    return Rule(length_m=feet * FOOT, gap_m=inches * INCH)


@pytest.mark.parametrize(
    ("seed", "rules", "share"),
    [
        (11, (_rule(10, 1 / 8),), 1.0),
        (14, (_rule(6, 3 / 16), _rule(2, 1 / 8)), 0.5),
    ],
)
def test_the_probability_holds_within_three_points_on_draws_that_neither_chose_nor_judged(
    seed: int, rules: tuple[Rule, ...], share: float
) -> None:
    case = _measured(seed, rules, share=share)
    found = case.assured(0.8, draws=Draws())
    assert found.assurance is not None
    chosen = found.assurance.chosen
    cycles = chosen.finish_cycles
    again = _draws(case, found, cycles=cycles, count=2000).probability(cycles)
    assert chosen.probability == pytest.approx(again, abs=0.03)
    assert chosen.probability_se < 0.03
    assert chosen.reached is (chosen.probability >= 0.8)


def test_a_floor_that_passes_as_measured_but_not_surely_is_worked_where_going_over_it_costs_more() -> None:
    case = _measured(11, (_rule(10, 3 / 16),), share=0.5)
    assert case.report.passes
    values = case.work._values()
    slow = replace(values["rates"], finish_ph_per_m2=5.0)
    asked = {"rates": slow, "confidence": Confidence(probability=0.9)}
    found = plan(
        floor=case.task.floor, surface=case.task.surface, report=case.report, budget=Budget(),
        **{**values, **asked},
    )  # fmt: skip
    assert found.assurance is not None
    assert found.assurance.chosen.reached
    assert found.assurance.chosen.planning_share < 1.0
    assert found.fill_m3 + found.grind_m3 > 0.0


def _draws(case: Case, made: Plan, *, cycles: int = 0, count: int = 200) -> Odds:
    lengths = tuple(rule.used_length_m for rule in case.report.rules)
    site = site_of(task=case.task, placing=USUAL, lengths_m=lengths)
    return odds(
        site=site, plan=planned(site=site, plan=made),
        missed=missed(site=site, finer=finer_of(site), plan=made, budget=Budget()), count=count,
        cycles=cycles, rng=np.random.default_rng(5), budget=Budget(),
    )  # fmt: skip


def test_fewer_rounds_of_finishing_are_the_first_of_more_on_the_same_floors(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # More floors than are held at once, so that later ones too have the same streams.
    monkeypatch.setattr(assurance_odds, "AT_ONCE", 20_000)
    case = _measured(11, (_rule(10, 1 / 8),), share=0.5)
    made = case.make(case.task, case.report)
    few, many = (_draws(case, made, cycles=cycles, count=150) for cycles in (1, 3))
    assert few.cycles == 1
    assert np.array_equal(few.over_m, many.over_m[:, :2])
    assert np.array_equal(few.skimmed_m3, many.skimmed_m3[:2])
    assert many.probability(3) != many.probability(0)


def test_floors_built_by_an_own_simulation_of_crews_pass_about_as_often_as_is_said() -> None:
    # Seeds that nothing was chosen on. What a floor's survey hides is the same for all its crews, so one
    # floor may be far off; three standard deviations of the mean of ten such floors are 0.3.
    rule, said, true = _rule(10, 1 / 8), [], []
    for seed in range(300, 310):
        case = _measured(seed, (rule,), share=0.5)
        made = case.make(case.task, case.report)
        said.append(_draws(case, made).probability(0))
        slab, fitted = true_heights_m(real=case.real, plan=made), to_metres(case.task.surface.height)
        rng = np.random.default_rng(seed)
        true.append(
            np.mean(
                [
                    _passes(case, built_m(slab_m=slab, fitted_m=fitted, plan=made, rng=rng), made)
                    for _ in range(20)
                ]
            )
        )
    assert np.mean(said) == pytest.approx(np.mean(true), abs=0.3)


def _passes(case: Case, heights_m: Floats, made: Plan) -> bool:
    found = check_heights(
        floor=case.task.floor, grid=made.grid, heights_m=heights_m, inside=made.inside, rules=case.task.rules
    )
    return all(report.passes for report in found)


def test_more_probability_never_costs_less_and_the_price_is_the_difference() -> None:
    case = _measured(13, (_rule(10, 1 / 16),), share=0.5)
    found = case.assured(0.9).assurance
    assert found is not None
    low, high = found.prices
    assert (low.asked, high.asked) == (0.8, 0.95)
    assert low.cost <= high.cost
    assert low.probability <= high.probability
    if low.reached and high.reached:
        assert found.price_of_95 == high.cost - low.cost
    else:
        assert found.price_of_95 is None
    assert found.chosen.finish_cycles > 0
    per_cycle = 12.0 * starter.rates().finish_ph_per_m2 * LABOUR
    chosen, patch = found.chosen, starter.catalogue().patch
    litres = 1000.0 * chosen.finish_patch_m3
    assert 0.0 < litres < 3.0 * chosen.finish_patch_m2  # so many mm where it is skimmed
    bags = chosen.finish_patch_m3 * (1.0 + patch.waste_share) + chosen.finish_patch_m2 * patch.texture_m
    skim = bags / patch.package.size * case.task.placing.per_bag
    assert chosen.finish_cost == pytest.approx(chosen.finish_cycles * per_cycle + skim)


def test_a_floor_that_only_just_passes_is_worked_where_the_probability_asks_for_it() -> None:
    case = _measured(16, (_rule(6, 3 / 16),), share=0.25, sd_m=0.0013)
    made = case.assured(0.95)
    assert case.make(case.task, case.report).solve.status == made.solve.status == "not-needed"
    assert made.assurance is not None
    assert made.assurance.chosen.reached
    assert made.assurance.chosen.finish_cycles > 0
    assert made.assurance.prices[1].cost > 0.0


def test_a_known_slab_and_a_crew_without_errors_leave_nothing_to_chance() -> None:
    job = work(
        floor=rectangle(width_m=3.0, length_m=4.0), height_m=trough(width_m=3.0, depth_m=0.012), columns=30
    )
    case = _case(job, None)
    made = case.assured(0.99, placing=EXACT)
    assert made.assurance is not None
    assert made.assurance.chosen.probability == 1.0
    assert made.assurance.placing_sd_m == 0.0
    (margin,) = made.assurance.margins
    assert margin.margin_m == pytest.approx(margin.gap_m - made.after[0].largest_m)
    assert margin.margin_as_built_m == pytest.approx(margin.margin_m, abs=1e-4)
    assert made.problems == case.make(case.task, case.report).problems


def test_what_cannot_be_reached_is_a_finding_that_names_what_holds_it() -> None:
    clumsy = replace(USUAL, screeded_m=0.003, ground_m=0.003, gauge_m=0.002)
    made = _measured(13, (_rule(10, 1 / 16),), share=0.5).assured(0.95, placing=clumsy)
    assert made.assurance is not None
    assert not made.assurance.chosen.reached
    assert made.assurance.price_of_95 is None
    assert made.assurance.held_by[0] == "placing"
    (finding,) = [problem for problem in made.problems if problem.code == "confidence-not-reached"]
    assert finding.pointer == "/options/confidence"
    assert "95%" in finding.detail
    assert f"{made.assurance.chosen.probability:.1%}" in finding.detail


def test_what_would_help_only_together_is_not_said_to_help_alone() -> None:
    """With a gauge of 2 mm a rule of 1/32 in passes neither on a known slab nor by an exact crew."""
    made = _measured(13, (_rule(6, 1 / 32),), share=0.25).assured(0.95, placing=replace(USUAL, gauge_m=0.002))
    assert made.assurance is not None
    assert made.assurance.chosen.probability < 0.05
    assert set(made.assurance.held_by) == {"survey", "placing"}
    (finding,) = [problem for problem in made.problems if problem.code == "confidence-not-reached"]
    assert "known exactly and pins, pours and grinding were exact" in finding.detail
    assert "no more with one of the two alone" in finding.detail
    assert "It would be 0%" not in finding.detail


def test_where_nothing_helps_no_cause_is_said_to() -> None:
    price = AssuredPrice(
        asked=0.95, reached=False, probability=0.0, probability_se=0.007, planning_share=0.4, finish_cycles=3,
        finish_cost=0.0, cost=0.0,
    )  # fmt: skip
    finding = not_reached(floor_id="A", price=price, causes=())
    assert "It would be no more if" in finding.detail
    assert "measure more closely" not in finding.detail
    one = not_reached(floor_id="A", price=price, causes=(Held(causes=("survey",), without=0.4),))
    assert "It would be 40% if the slab were known exactly. What would help most: measure" in one.detail


def test_where_finishing_is_dear_the_plan_is_tighter_and_told_by_the_rules_that_were_asked_for() -> None:
    rule = _rule(6, 3 / 16)
    made = _measured(18, (rule,), share=0.25, sd_m=0.0013).assured(0.95, labour=100.0 * LABOUR)
    assert made.assurance is not None
    assert made.assurance.chosen.reached
    assert made.assurance.chosen.planning_share < 1.0
    assert made.assurance.chosen.finish_cycles == 0
    assert made.assurance.chosen.cost == made.solve.objective > 0.0
    assert [report.rule for report in made.after] == [rule]
    assert made.passes
    assert not [problem for problem in made.problems if problem.code == "still-failing-after-correction"]


def test_the_same_task_gives_the_same_assurance() -> None:
    case = _measured(12, (_rule(6, 1 / 8),))
    assert case.assured(0.8).assurance == case.assured(0.8).assurance


def test_a_cancelled_plan_stops() -> None:
    case = _measured(12, (_rule(6, 1 / 8),))
    with pytest.raises(Stopped):
        assured(
            task=case.task, report=case.report, make=case.pending, labour_per_ph=LABOUR,
            budget=Budget(stop=lambda: True), asked=Confidence(probability=0.8),
        )  # fmt: skip
