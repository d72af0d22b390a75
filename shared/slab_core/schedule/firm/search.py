"""Plans of the firm: serial ones in several orders of the jobs, then annealing over order and crews."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import exp, isfinite

import numpy as np

from slab_core.numerics.budget import Budget
from slab_core.schedule.firm.arrays import Arrays
from slab_core.schedule.firm.kernels import Flags, Plan, Whole, build, weigh

TRIALS = 400
"""Plans tried where no clock ends the search."""

OVERDUE, LATE, MOVED, LATER = 1e6, 1e3, 10.0, 1e-3
"""What a minute weighs for the annealing, in person-minutes paid, by which a greatest lag is exceeded, a job
late, a visit moved, or a finish later. The best plan is the first in that order, whatever the weights."""

TO_BE_TOLD = 240
"""Minutes that a visit counts for once it moves at all or others come to it, or with another machine:
somebody has to be told."""

FREE, NO_EARLIER, AS_IT_WAS = 0, 1, 2
"""How a job holds on to the plan before: not at all, by beginning nothing earlier, in everything."""

HOT, COLD = 300.0, 5.0
"""Annealing accepts a plan that is worse by so many person-minutes with a chance of 1/e, first and last."""

THRIFT = (0, 1, 3, 10)
"""Minutes later that a task may end to save a person-minute of travel and waiting."""

APART = (0, 240, 1440)
"""Minutes later that a job's own crew may end for another one not to be asked."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Genes:
    """What a serial plan is made from: order of the jobs, a crew for each task (-1 for any), minutes that
    another crew must gain, how each job holds on to the plan before, and by task how many minutes later it
    may end to save a person-minute of travel and waiting."""

    order: Whole
    crews: Whole
    apart: int
    held: Whole
    thrift: Whole


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Anchors:
    """A plan to hold on to. `before` and `fixed` (tasks, 4) are start, end, choice and machine, with a choice
    of -1 for none: as it was, and what may not move at all because it has begun. Jobs in `right` (jobs,) may
    stay in everything."""

    before: Whole
    fixed: Whole
    right: Flags


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """A plan and what it weighs."""

    genes: Genes
    plan: Plan
    score: float
    overdue: int
    late: int
    paid: int
    travelled: int
    moved: int
    finishes: int

    @property
    def rank(self) -> tuple[int, int, int, int, int]:
        """Less is better."""
        return self.overdue, self.late, self.moved, self.paid, self.finishes


@dataclass(slots=True, kw_only=True, eq=False)
class FirmSearch:
    """Tries plans and keeps the best."""

    arrays: Arrays
    anchors: Anchors
    best: Found | None = None
    tried: int = 0
    scratch: Plan = field(init=False)

    def __post_init__(self) -> None:
        self.scratch = self.arrays.new_plan()

    def try_genes(self, genes: Genes) -> Found | None:
        """The plan that genes make; None when the hours end first."""
        arrays, anchors, plan = self.arrays, self.anchors, self.scratch
        self.tried += 1
        held = np.where(anchors.before[:, 2] >= 0, genes.held[arrays.jobs[2]], FREE)
        crews = np.where(held, arrays.choices[1][anchors.before[:, 2]], genes.crews)
        starts, ways = np.where(held, anchors.before[:, 0], 0), np.where(held, anchors.before[:, 2], -1)
        machines = np.where(held, anchors.before[:, 3], -1)
        any_way, no_days = np.full(arrays.tasks, -1), np.zeros(arrays.tasks, dtype=np.int64)
        wishes = (genes.order, crews, starts, genes.thrift, ways, machines, any_way, no_days)
        as_it_was = (held == AS_IT_WAS) & (anchors.fixed[:, 2] < 0) & anchors.right[arrays.jobs[2]]
        fixed = np.where(as_it_was[:, np.newaxis], anchors.before, anchors.fixed)
        made = build(
            plan,
            arrays.absences,
            fixed,
            wishes,
            genes.apart,
            arrays.hours,
            arrays.choices,
            arrays.lags,
            arrays.facts,
            arrays.jobs,
        )
        if not made:
            return None
        found = self.weighed(genes, plan)
        if self.best is None or found.rank < self.best.rank:
            self.best = found
        return found

    def weighed(self, genes: Genes, plan: Plan) -> Found:
        """What a plan weighs, with a copy of it."""
        arrays, before = self.arrays, self.anchors.before
        overdue, late, paid, travelled, finishes = weigh(
            plan, arrays.hours, arrays.lags, arrays.facts, arrays.jobs
        )
        known = before[:, 2] >= 0
        shifts = np.abs(plan[0][: arrays.tasks] - before[:, 0])[known]
        others = ((plan[2] != before[:, 2]) | (plan[3] != before[:, 3]))[known]
        moved = int(shifts.sum() + TO_BE_TOLD * ((shifts > 0) | others).sum())
        score = OVERDUE * overdue + LATE * late + MOVED * moved + paid + LATER * finishes
        return Found(
            genes=genes,
            plan=copied(plan),
            score=score,
            overdue=overdue,
            late=late,
            paid=paid,
            travelled=travelled,
            moved=moved,
            finishes=finishes,
        )

    def first(self) -> Found | None:
        """The best of serial plans by promised date, by earliest start, and by what is left between."""
        arrays = self.arrays
        pointers, promised, _ = arrays.jobs
        count = len(promised)
        early = arrays.facts[3][pointers[:-1]]
        due = np.where(promised >= 0, promised, np.iinfo(np.int64).max // 2)
        work = np.add.reduceat(arrays.choices[3][arrays.choices[0][:-1]], pointers[:-1])
        any_crew, free = np.full(arrays.tasks, -1), np.full(count, FREE)
        for keys in (due, early, due - 3 * work):
            for thrift in THRIFT:
                self.try_genes(
                    Genes(
                        order=np.argsort(keys, kind="stable"),
                        crews=any_crew,
                        apart=0,
                        held=free,
                        thrift=np.full(arrays.tasks, thrift),
                    )
                )
        return self.best

    def anneal(self, *, budget: Budget, seed: int, good_enough: float, trials: int = TRIALS) -> None:
        """Change the best plan's genes a little, again and again, until the time or the trials are over."""
        if self.best is None or len(self.best.genes.order) == 0:
            return
        rng = np.random.default_rng(seed)
        now, begin = self.best, budget.left_s()
        for trial in range(2**62):
            left = budget.left_s()
            used = 1.0 - left / begin if isfinite(begin) and begin > 0 else trial / trials
            if used >= 1.0 or left <= 0 or self.best.score <= good_enough:
                return
            budget.tell(used)
            found = self.try_genes(self._changed(now.genes, rng))
            heat = HOT * (COLD / HOT) ** used
            if found is not None and rng.random() < exp(min(0.0, (now.score - found.score) / heat)):
                now = found

    def _changed(self, genes: Genes, rng: np.random.Generator) -> Genes:
        order, crews, apart = genes.order.copy(), genes.crews.copy(), genes.apart
        held, thrift = genes.held.copy(), genes.thrift.copy()
        count, what = len(order), rng.random()
        tasks = self._some_tasks(rng)
        if held.any() and what < 0.6:
            held[rng.integers(count)] = rng.integers(3)
        elif what < 0.35:
            one = int(rng.integers(count))
            other = int(np.clip(one + rng.integers(-6, 7), 0, count - 1))
            job = order[one]
            order = np.insert(np.delete(order, one), other, job)
        elif what < 0.65:
            thrift[tasks] = THRIFT[rng.integers(len(THRIFT))]
        elif what < 0.97:
            crews[tasks] = rng.integers(-1, len(self.arrays.firm.crews))
        else:
            apart = APART[rng.integers(len(APART))]
        return Genes(order=order, crews=crews, apart=apart, held=held, thrift=thrift)

    def _some_tasks(self, rng: np.random.Generator) -> slice:
        """All tasks of a job, or one of them, or one and all after it."""
        pointers = self.arrays.jobs[0]
        job = int(rng.integers(len(pointers) - 1))
        first, last = int(pointers[job]), int(pointers[job + 1])
        one, what = int(rng.integers(first, last)), rng.random()
        if what < 0.4:
            return slice(one, one + 1)
        return slice(one, last) if what < 0.7 else slice(first, last)


def copied(plan: Plan) -> Plan:
    """A plan of its own."""
    return tuple(part.copy() for part in plan)  # type: ignore[return-value]  # as many parts as there were
