"""The cheapest plan by which the whole floor passes all rules with a stated probability.

Survey and crew err. Two things buy probability: planning to a share of every gap, so that less is left near
it, and going over the floor with an edge after the work. What is chosen on some draws is judged on others.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from math import inf

import numpy as np

from slab_core.correction.assurance.causes import held_by, not_reached
from slab_core.correction.assurance.finish import MOST_CYCLES
from slab_core.correction.assurance.floors import Planned, planned
from slab_core.correction.assurance.judge import Judge, Tried, Way, worth_judging
from slab_core.correction.assurance.missed import finer_of, missed
from slab_core.correction.assurance.odds import Odds, odds
from slab_core.correction.assurance.site import Site, site_of, with_ramps_of
from slab_core.correction.assurance_model import Assurance, Confidence, RuleMargin
from slab_core.correction.model import Plan
from slab_core.correction.pending import Pending
from slab_core.correction.placing_costs import MM
from slab_core.correction.ramps.ramped import as_planned
from slab_core.correction.second_look import still_failing
from slab_core.correction.task import Task
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import to_metres
from slab_core.tolerance.check import SLACK_M, check_heights
from slab_core.tolerance.model import RuleReport, ToleranceReport

Make = Callable[[Task, ToleranceReport, float, float], Pending]
"""The cheapest plan for a task and what its rules make of the slab as it is, if it costs less than what is to
be beaten; ramps keep a share of their own rule."""

STILL_FAILING = "still-failing-after-correction"

SHARES = (1.0, 0.85, 0.7, 0.55, 0.4)
PRICED = (0.8, 0.95)

DRAWN_M2, LEAST_DRAWS = 35.0, 100
"""On larger floors there are fewer draws, where each costs more, but never fewer than so many."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Draws:
    """How many floors are drawn: 80 % is then judged with a standard error of 1.3 points."""

    choosing: int = 200
    judging: int = 1000

    def on(self, area_m2: float) -> "Draws":
        """As many as a floor of this area gets."""
        scale = min(1.0, DRAWN_M2 / area_m2)
        choosing, judging = (max(LEAST_DRAWS, round(n * scale)) for n in (self.choosing, self.judging))
        return Draws(choosing=choosing, judging=judging)


USUAL = Draws()


def assured(
    *,
    task: Task,
    report: ToleranceReport,
    make: Make,
    asked: Confidence,
    labour_per_ph: float,
    budget: Budget,
    draws: Draws = USUAL,
) -> Plan:
    """The plan with its `assurance`; where nothing reaches what is asked for, the surest one with a finding.

    A floor whose plan is refused is given back as it is.

    Raises
    ------
    Stopped
        when the budget says so.
    """
    lengths = tuple(rule.used_length_m for rule in report.rules)
    site = site_of(task=task, placing=asked.placing, lengths_m=lengths)
    draws = draws.on(task.floor.area_m2)
    levels = tuple(sorted({asked.probability, *PRICED}))
    ways = tuple(
        _ways(
            site=site, report=report, make=make, labour_per_ph=labour_per_ph, count=draws.choosing,
            enough=max(levels), budget=budget,
        )
    )  # fmt: skip
    if not ways:
        return make(task, report, inf, 1.0).finished()
    candidates = {level: worth_judging(ways, asked=level) for level in levels}
    judge = Judge(
        count=draws.judging, budget=budget, sure=tuple(of[0] for of in candidates.values())
    )  # fmt: skip
    chosen = {level: judge.chosen(candidates[level], asked=level) for level in levels}
    prices = {level: judge.price(way, asked=level) for level, way in chosen.items()}
    mine = chosen[asked.probability]
    price = prices[asked.probability]
    causes = () if price.reached else held_by(site=site, plan=mine.tried.plan, price=price, budget=budget)
    low, high = (prices[level] for level in PRICED)
    assurance = Assurance(
        chosen=price,
        prices=(low, high),
        price_of_95=high.cost - low.cost if low.reached and high.reached else None,
        draws=draws.judging,
        placing=asked.placing,
        placing_sd_m=_placing_sd_m(site=site, on=mine.tried.on),
        margins=_margins(way=mine, judged=judge.odds(mine), asked=asked.probability),
        held_by=tuple(cause for held in causes for cause in held.causes),
    )
    plan = replace(mine.tried.pending.finished(), assurance=assurance)
    if price.reached:
        return plan
    finding = not_reached(floor_id=task.floor.id, price=price, causes=causes)
    return replace(plan, problems=(*plan.problems, finding))


def _ways(
    *,
    site: Site,
    report: ToleranceReport,
    make: Make,
    labour_per_ph: float,
    count: int,
    enough: float,
    budget: Budget,
) -> Iterator[Way]:
    """All ways worth a look; none where the plan for the whole gaps is refused.

    A cheapest plan that happens to keep a share of every gap is the cheapest for that share too; and since
    tighter ones cost no less, none is made once one costs as much as a way that is surely sure enough.
    """
    task, sure = site.task, inf
    plan: Plan | None = None
    finer = finer_of(site)
    per_cycle = task.floor.area_m2 * task.rates.finish_ph_per_m2 * labour_per_ph
    for share in SHARES:
        if plan is not None and _keeps(plan, share=share):
            continue
        pending = _planned_to(share, task=task, report=report, make=make, beat=sure)
        plan = pending.plan
        if plan.solve.status == "infeasible" or plan.solve.objective >= sure:
            return
        own, on = with_ramps_of(plan, site=site), planned(site=site, plan=plan)
        less = missed(site=own, finer=finer, plan=plan, budget=budget)
        seemed = odds(
            site=own, plan=on, missed=less, count=count, cycles=MOST_CYCLES, rng=np.random.default_rng(1),
            budget=budget,
        )  # fmt: skip
        tried = Tried(pending=pending, site=own, on=on, missed=less, share=share, seemed=seemed)
        for cycles in range(MOST_CYCLES + 1):
            bags = task.placing.bags(m2_mm=seemed.skimmed_m3[cycles] / MM, m2=seemed.skimmed_m2[cycles])
            finishing = cycles * per_cycle + float(bags) * task.placing.per_bag
            cost = plan.solve.objective + finishing
            if seemed.probability(cycles) >= enough + 2.0 * seemed.error(cycles):
                sure = min(sure, cost)
            yield Way(tried=tried, cycles=cycles, cost=cost, finish_cost=finishing)
        if plan.solve.objective >= sure:
            return


def _keeps(plan: Plan, *, share: float) -> bool:
    own = all(report.largest_m <= share * report.rule.gap_m + SLACK_M for report in plan.after)
    ramps = ((work, work.rule) for work in plan.doorways if work.rule is not None)
    return own and all(work.largest_m <= share * rule.gap_m + SLACK_M for work, rule in ramps)


def _planned_to(share: float, *, task: Task, report: ToleranceReport, make: Make, beat: float) -> Pending:
    """The plan for a share of every gap, its re-check and findings by the rules themselves."""
    if share == 1.0:
        return make(task, report, beat, share)
    rules = tuple(replace(rule, gap_m=share * rule.gap_m) for rule in task.rules)
    reports = tuple(
        replace(found, rule=rule, passes=found.largest_m <= rule.gap_m + SLACK_M)
        for found, rule in zip(report.rules, rules, strict=True)
    )
    tighter = replace(report, rules=reports, passes=all(found.passes for found in reports))
    pending = make(replace(task, rules=rules), tighter, beat, share)
    plan = pending.plan
    if plan.solve.status == "infeasible" or plan.solve.objective >= beat:
        return pending
    after = check_heights(
        floor=task.floor,
        grid=plan.grid,
        heights_m=to_metres(task.surface.height + plan.fill - plan.grind),
        inside=as_planned(task=task, works=plan.doorways).off_ramps(),
        rules=task.rules,
    )
    return replace(pending, plan=_restated(plan, after=after, task=task))


def _restated(plan: Plan, *, after: tuple[RuleReport, ...], task: Task) -> Plan:
    """The plan with its re-check, its margins and its findings by the rules that were asked for."""
    others = tuple(problem for problem in plan.problems if problem.code != STILL_FAILING)
    failing = tuple(still_failing(report=found, floor=task.floor) for found in after if not found.passes)
    margins = tuple(
        replace(margin, margin_m=found.rule.gap_m - found.largest_m)
        for margin, found in zip(plan.margins, after, strict=bool(plan.margins))
    )
    return replace(
        plan,
        after=after,
        passes=all(found.passes for found in after),
        problems=(*others, *failing),
        margins=margins,
    )


def _margins(*, way: Way, judged: Odds, asked: float) -> tuple[RuleMargin, ...]:
    after = way.tried.plan.after
    left = judged.left_m(cycles=way.cycles, probability=asked)[: len(after)]  # ramps come last
    return tuple(
        RuleMargin(
            length_m=report.rule.length_m,
            gap_m=report.rule.gap_m,
            margin_m=report.rule.gap_m - report.largest_m,
            margin_as_built_m=as_built,
        )
        for report, as_built in zip(after, left, strict=True)
    )


def _placing_sd_m(*, site: Site, on: Planned) -> float:
    errors, inside = site.placing, site.on.inside
    cut = (on.ground_m > 0.0) & ~on.filled
    screeded = on.filled & ~on.patched & ~on.poured_free
    parts = (
        (screeded, errors.screeded_m), (on.poured_free, errors.free_m), (on.patched, errors.patched_m),
        (cut, errors.ground_m),
    )  # fmt: skip
    nodes = sum(int((where & inside).sum()) for where, _ in parts)
    if not nodes:
        return 0.0
    squares = sum(int((where & inside).sum()) * sd**2 for where, sd in parts)
    return float(np.sqrt(squares / nodes + errors.ripple_m**2))
