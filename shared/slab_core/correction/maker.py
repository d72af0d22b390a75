"""How one task is planned for one alternate: planes of its family or all ways of placing, and doorways."""

from dataclasses import dataclass, field, replace
from math import inf

from slab_core.correction.evaluate import ending_m, outcome_of_plane, plan_of_outcome, untouched_plan
from slab_core.correction.model import Plan, Solve, proven_to
from slab_core.correction.next_readings import with_next_readings
from slab_core.correction.pending import Pending, as_it_is
from slab_core.correction.placing.placement import cheapest_placement
from slab_core.correction.placing.refusal import with_refusal
from slab_core.correction.placing.workability import workability_of_plane
from slab_core.correction.planes.best_plane import Best, best_plane
from slab_core.correction.planes.nearest import why_infeasible
from slab_core.correction.ramps.choice import Chooser
from slab_core.correction.ramps_model import DoorWays, DoorWork
from slab_core.correction.task import Task
from slab_core.correction.thresholds import slab_is_in_range
from slab_core.numerics.budget import Budget
from slab_core.stages import CHEAPEST
from slab_core.tolerance.check import SLACK_M
from slab_core.tolerance.model import Rule, ToleranceReport


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Maker:
    """Makes plans of one alternate; `spare_bag` is the price of a bag left over."""

    alternate: str
    doorways: DoorWays | None
    labour_per_ph: float
    spare_bag: float
    budget: Budget
    known: "KnownPlanes" = field(default_factory=lambda: KnownPlanes())

    def made(
        self, task: Task, report: ToleranceReport, beat: float = inf, ramp_share: float = 1.0
    ) -> Pending:
        """The cheapest plan for a task and what its rules make of the slab as it is; of status "infeasible"
        with a refusal where there is none. What costs no less than `beat` may come out so too. Ramps are
        planned to a share of their rule, and told by the rule itself."""
        if self.doorways is None:
            return self._to_finish(self._made(task, report, beat=beat), task=task)
        chooser = Chooser(
            task=task,
            report=report,
            ways=_tighter(self.doorways, share=ramp_share),
            labour_per_ph=self.labour_per_ph,
            planes=lambda task, beat: self._of_family(task, report, beat=beat),
            budget=self.budget,
        )
        if self.alternate == CHEAPEST:
            refused = _refused(task=task, report=report)
            best = chooser.placed(refused=refused, make=lambda task: self._made(task, report).finished())
        else:
            best = chooser.best(plain=self._made(task, report).finished())
        works = tuple(_told_by(work, rule=self.doorways.ramp_rule) for work in best.plan.doorways)
        return self._to_finish(as_it_is(replace(best.plan, doorways=works)), task=best.task)

    def _made(self, task: Task, report: ToleranceReport, *, beat: float = inf) -> Pending:
        def planes() -> Plan:
            return self._of_family(task, report) or _refused(task=task, report=report)

        if self.alternate != CHEAPEST:
            return as_it_is(planes())
        return cheapest_placement(task=task, report=report, planes=planes, beat=beat, budget=self.budget)

    def _of_family(self, task: Task, report: ToleranceReport, *, beat: float = inf) -> Plan | None:
        """None where no plane is allowed. Once none can cost less than `beat`, any will do."""
        return _best_of_family(task=task, report=report, known=self.known, beat=beat, budget=self.budget)

    def _to_finish(self, pending: Pending, *, task: Task) -> Pending:
        def rest(plan: Plan) -> Plan:
            whole = workability_of_plane(pending.rest(plan), task=task, budget=self.budget)
            if self.alternate == CHEAPEST:
                whole = with_refusal(whole, task=task, budget=self.budget)
            return with_next_readings(whole, task=task, spare_bag=self.spare_bag)

        return Pending(plan=pending.plan, rest=rest)


@dataclass(slots=True)
class KnownPlanes:
    """The last cheapest plane that was looked for. Which one it is does not hang on the rules, so that tasks
    for several shares of them have the same."""

    task: Task | None = None
    best: Best | None = None

    def of(self, task: Task, *, beat: float, budget: Budget) -> Best | None:
        """The best plane of the task, looked for unless it is known."""
        same = self.task is not None and self.task.case is task.case and self.task.rows is task.rows
        if same:
            return self.best
        best = best_plane(task=task, budget=budget, beat=beat)
        if beat == inf:
            self.task, self.best = task, best
        return best


def _tighter(ways: DoorWays, *, share: float) -> DoorWays:
    rule = ways.ramp_rule
    return replace(ways, ramp_rule=replace(rule, gap_m=share * rule.gap_m))


def _told_by(work: DoorWork, *, rule: Rule) -> DoorWork:
    """A ramp by the rule that it has to keep; whatever else is done at a doorway has none."""
    if work.rule is None:
        return work
    return replace(work, rule=rule, passes=work.largest_m <= rule.gap_m + SLACK_M)


def _best_of_family(
    *, task: Task, report: ToleranceReport, known: KnownPlanes, beat: float, budget: Budget
) -> Plan | None:
    """None where no plane is allowed."""
    alternate = task.family.alternate
    passes = all(rule.passes for rule in report.rules)
    in_range = all(slab_is_in_range(door=door, surface=task.surface) for door in task.doors)
    done = passes and in_range and task.ramped is None
    if done and not task.family.level:
        return _not_needed(task=task, report=report)
    found = known.of(task, beat=beat, budget=budget)
    if found is None:
        return None
    outcome = outcome_of_plane(task=task, abc_mm=found.abc_mm)
    if outcome.work.cost == 0.0 and done:
        return _not_needed(task=task, report=report)
    cost = outcome.work.cost + ending_m(task=task, outcome=outcome) * task.placing.per_dam_m
    bound = min(max(found.bound, 0.0), cost)
    return plan_of_outcome(
        task=task,
        outcome=outcome,
        plane=task.case.nodes.to_plane(found.abc_mm),
        alternate=alternate,
        solve=proven_to(objective=cost, bound=bound),
    )


def _not_needed(*, task: Task, report: ToleranceReport) -> Plan:
    nothing = Solve(status="not-needed", objective=0.0, bound=0.0)
    alternate = task.family.alternate
    return untouched_plan(task=task, alternate=alternate, solve=nothing, after=report.rules, passes=True)


def _refused(*, task: Task, report: ToleranceReport) -> Plan:
    nothing = Solve(status="infeasible", objective=0.0, bound=0.0)
    plan = untouched_plan(
        task=task, alternate=task.family.alternate, solve=nothing, after=report.rules, passes=report.passes
    )
    return replace(plan, passes=False, problems=why_infeasible(task=task))
