"""At which doorways it is cheaper to make a ramp, change the transition or cut the door than to bring the
whole floor to them."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from slab_core.correction.evaluate import outcome_of_ramps, plan_of_outcome, recheck_ramps
from slab_core.correction.family import ANY_PLANE
from slab_core.correction.feasible import door_rows
from slab_core.correction.model import Plan, Solve, proven_to
from slab_core.correction.planes.best_plane import NARROWER, best_plane, least_of_planes
from slab_core.correction.ramps.options import Need, combinations, needs, ramps_alone
from slab_core.correction.ramps.ramped import Chosen, with_doorways
from slab_core.correction.ramps.words import ON_PLANES, Weighed, why
from slab_core.correction.ramps_model import DoorWays, DoorWork
from slab_core.correction.task import Task, restricted
from slab_core.correction.thresholds import heights_along, slab_is_in_range
from slab_core.correction.work import breaks_limits
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats
from slab_core.stages import CHEAPEST
from slab_core.tolerance.model import RuleReport, ToleranceReport


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Made:
    """A plan with what it does at doorways, and its task."""

    plan: Plan
    task: Task
    chosen: tuple[Chosen, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Candidate:
    """A choice over the doorways, its task (None where it cannot be), whether the slab else stays as it is,
    its own price, and what no plan with it costs less than."""

    task: Task | None
    chosen: tuple[Chosen, ...]
    on_slab: bool
    price: float
    least: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chooser:
    """`planes` gives the plan of the cheapest plane of a task, None where no plane is allowed; it need not be
    searched for any longer once none can cost less than so much."""

    task: Task
    report: ToleranceReport
    ways: DoorWays
    labour_per_ph: float
    planes: Callable[[Task, float], Plan | None]
    budget: Budget

    def best(self, *, plain: Plan) -> Made:
        """The cheapest plan over what may be done at the doorways, `plain` among them: it changes none.

        What cannot be cheaper, by its bound before any branching, is not worked out. The bound holds for what
        was weighed: planes with ramps of other lengths and rises are not in it.
        """
        left = Made(plan=plain, task=self.task, chosen=())
        if plain.solve.status == "not-needed":
            return left
        best, bound, weighed = left, _bound(plain), [Weighed(chosen=(), cost=_cost(plain))]
        candidates, missed = self._candidates()
        for candidate in candidates:
            if candidate.least >= _cost(best.plan):
                weighed.append(Weighed(chosen=candidate.chosen, cost=candidate.least, worked_out=False))
                continue
            made = self._made(candidate, beat=_cost(best.plan))
            cost = np.inf if made is None else _cost(made.plan)
            weighed.append(Weighed(chosen=candidate.chosen, cost=cost))
            if made is None:
                continue
            bound = min(bound, _bound(made.plan))
            if cost < _cost(best.plan) - 1e-9:
                best = made
        if not best.chosen:
            return replace(best, plan=_bounded(best.plan, bound=bound))
        plan = _bounded(best.plan, bound=bound)
        return replace(best, plan=self._told(plan, made=best, weighed=weighed, missed=missed))

    def placed(self, *, refused: Plan, make: Callable[[Task], Plan]) -> Made:
        """The cheapest floor over all ways of placing, with the doorways as they are or as they are best met
        by planes: every choice over the doorways takes a search, and planes are quickly searched.

        The bound holds for those two choices and for planes with any. `refused` says why there is no plane.
        """
        plain = Made(plan=make(self.task), task=self.task, chosen=())
        best = self.best(plain=self.planes(self.task, np.inf) or refused)
        if plain.plan.solve.status == "not-needed" or not best.chosen:
            return plain
        on_plane = replace(best, plan=replace(best.plan, alternate=CHEAPEST))
        weighed = [plain, on_plane, *self._placed_as(best, plan=make(best.task))]
        found = min(weighed, key=lambda made: _cost(made.plan))
        bound = min(_bound(made.plan) for made in weighed)
        works = tuple(replace(work, why=f"{work.why} {ON_PLANES}") for work in found.plan.doorways)
        return replace(found, plan=replace(_bounded(found.plan, bound=bound), doorways=works))

    def _placed_as(self, best: Made, *, plan: Plan) -> list[Made]:
        """The placed plan with what is done at the doorways; nothing where it does not pass."""
        if not plan.passes or plan.solve.status == "infeasible":
            return []
        price, reports = sum(map(self.price, best.chosen)), self._reports(plan, made=best)
        works = tuple(_checked(work, reports=reports) for work in best.plan.doorways)
        solve = Solve(
            status="feasible", objective=plan.solve.objective + price, bound=plan.solve.bound + price
        )
        return [replace(best, plan=replace(plan, solve=solve, doorways=works))]

    def hours(self, one: Chosen) -> float:
        """Person-hours at the doorway itself."""
        return {"ramp": self.ways.ramp_ph, "transition": self.ways.transition_ph, "cut": self.ways.cut_ph}[
            one.way
        ]

    def price(self, one: Chosen) -> float:
        """What it costs beside compound and grinding."""
        strip = self.ways.transition_price if one.way == "transition" else 0.0
        return self.hours(one) * self.labour_per_ph + strip

    def _candidates(self) -> tuple[list[Candidate], int]:
        """What may be worked out, that which may be cheapest first, and the most doorways that are missed."""
        own, made, most = self.task, [], 0
        for task in (own, *self._narrower()):
            missed = self._missed_by_plane(task)
            every = combinations(missed=missed, ways=self.ways)
            made += [self._candidate(task, chosen=chosen, on_slab=False) for chosen in every]
            most = max(most, len(missed))
        if all(rule.passes for rule in self.report.rules) and not own.family.level:
            missed = self._missed_by_slab()
            alone = ramps_alone(missed=missed, ways=self.ways)
            made += [self._candidate(own, chosen=chosen, on_slab=True) for chosen in alone]
            most = max(most, len(missed))
        return sorted(made, key=lambda candidate: candidate.least), most

    def _candidate(self, task: Task, *, chosen: tuple[Chosen, ...], on_slab: bool) -> Candidate:
        changed = with_doorways(task=task, ways=self.ways, chosen=chosen)
        least, price = np.inf, sum(map(self.price, chosen))
        if changed is not None:
            least = price + (0.0 if on_slab else least_of_planes(task=changed, budget=self.budget))
        return Candidate(task=changed, chosen=chosen, on_slab=on_slab, price=price, least=least)

    def _narrower(self) -> list[Task]:
        """Planes of any slope are looked for where narrower families find theirs too: what a ramp has to make
        up for hangs on where the plane lies, and none of those families may come out cheaper."""
        if self.task.family is not ANY_PLANE:
            return []
        return [restricted(self.task, family=family) for family in NARROWER]

    def _missed_by_plane(self, task: Task) -> tuple[Need, ...]:
        """Doors that the cheapest plane of the task misses if it is held by obstacles alone."""
        fixed = tuple(door for door in task.doors if not door.is_door)
        rows = tuple(row for door in fixed for row in door_rows(case=task.case, door=door))
        free = replace(task, doors=fixed, rows=(*task.family_rows, *rows))
        found = best_plane(task=free, budget=self.budget)
        return () if found is None else self._needs(found.abc_mm)

    def _needs(self, abc_mm: Floats) -> tuple[Need, ...]:
        nodes = self.task.case.nodes
        heights = []
        for door in self.task.doors:
            x, y = np.array(door.ends()).T
            u, v = nodes.scaled(x=x, y=y)
            heights.append((abc_mm[0] + abc_mm[1] * u + abc_mm[2] * v) * 1e-3)
        return needs(doors=self.task.doors, heights_m=tuple(heights))

    def _missed_by_slab(self) -> tuple[Need, ...]:
        surface = self.task.surface
        heights = tuple(heights_along(door=door, surface=surface) for door in self.task.doors)
        return needs(doors=self.task.doors, heights_m=heights)

    def _made(self, candidate: Candidate, *, beat: float) -> Made | None:
        """None where it cannot be done or does not pass."""
        changed, price = candidate.task, candidate.price
        if changed is None:
            return None
        plan = _ramps_on_slab(changed) if candidate.on_slab else self.planes(changed, beat - price)
        if plan is None or not plan.passes:
            return None
        solve = plan.solve
        solve = Solve(status="feasible", objective=solve.objective + price, bound=solve.bound + price)
        named = replace(plan, solve=solve, alternate=self.task.family.alternate)
        return Made(plan=named, task=changed, chosen=candidate.chosen)

    def _told(self, plan: Plan, *, made: Made, weighed: list[Weighed], missed: int) -> Plan:
        reports, works = self._reports(plan, made=made), []
        for one in made.chosen:
            words = why(one, task=self.task, chosen=made.chosen, weighed=weighed, missed=missed)
            work = self._work(one, words=words)
            if one.way == "ramp":
                slope = abs(one.rise_m) / one.length_m
                work = replace(work, length_m=one.length_m, rise_m=one.rise_m, slope=slope)
            works.append(_checked(work, reports=reports))
        return replace(plan, doorways=tuple(works))

    def _reports(self, plan: Plan, *, made: Made) -> Iterator[RuleReport]:
        """What each ramp departs from its rule, in the order of the doorways' works."""
        inside = made.task.surface.inside
        return iter(recheck_ramps(task=made.task, grind=plan.grind[inside], fill=plan.fill[inside]))

    def _work(self, one: Chosen, *, words: str) -> DoorWork:
        door = self.task.doors[one.door]
        wider = self.ways.transition_m if one.way == "transition" else 0.0
        higher = self.ways.cut_m if one.way == "cut" else wider
        return DoorWork(
            room=door.room,
            opening=door.id,
            pointer=door.pointer,
            way=one.way,
            low_m=door.low_m + door.build_up_m - wider,
            high_m=door.high_m + door.build_up_m + higher,
            person_hours=self.hours(one),
            cost=self.price(one),
            why=words,
        )


def _checked(work: DoorWork, *, reports: Iterator[RuleReport]) -> DoorWork:
    """A ramp with the next report; whatever else is done at a doorway has none."""
    if work.way != "ramp":
        return work
    report = next(reports)
    return replace(work, rule=report.rule, largest_m=report.largest_m, passes=report.passes)


def _ramps_on_slab(task: Task) -> Plan | None:
    """None where a limit, a doorway or the family forbids it."""
    lift, family = task.ramped.lift if task.ramped else np.zeros(1), task.family
    if (lift.max() > 0 and not family.fills) or (lift.min() < 0 and not family.grinds):
        return None
    outcome = outcome_of_ramps(task=task)
    met = all(slab_is_in_range(door=door, surface=task.surface) for door in task.doors)
    if not met or breaks_limits(case=task.as_measured().case, work=outcome.work):
        return None
    return plan_of_outcome(
        task=task,
        outcome=outcome,
        plane=None,
        alternate=task.family.alternate,
        solve=Solve(status="feasible", objective=outcome.work.cost, bound=outcome.work.cost),
    )


def _cost(plan: Plan) -> float:
    """Infinite for a plan that is none."""
    if plan.solve.status == "not-needed":
        return 0.0
    return plan.solve.objective if plan.solve.status != "infeasible" else np.inf


def _bound(plan: Plan) -> float:
    return plan.solve.bound if plan.solve.status != "infeasible" else np.inf


def _bounded(plan: Plan, *, bound: float) -> Plan:
    solve = plan.solve
    if solve.status == "infeasible":
        return plan
    return replace(plan, solve=proven_to(objective=solve.objective, bound=bound))
