"""Branch and bound over small projects: at each time where not all can go on, some must wait.

Source of the branching and of the rule by sets of begun activities: E. Demeulemeester and W. Herroelen, "A
branch-and-bound procedure for the multiple resource-constrained project scheduling problem", 1992, and "New
benchmark results", 1997, with the bound of A. Mingozzi and others, 1998, by activities of which no two go
together (all from memory).
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from slab_core.numerics.budget import Budget
from slab_core.schedule.project.branching_kernels import GAVE_UP, OVER, Problem, Sets, Whole, explore
from slab_core.schedule.project.model import Project

MOST_ACTIVITIES = 62
"""Sets of activities are bits of one word, one of which counts on."""

LEVELS_PER_ACTIVITY = 8
WAYS = 1 << 17
"""Sets of activities that may wait, over all levels; a project with more is given up."""

REMEMBERED = 1 << 18
"""Sets of begun activities that are remembered, each with its time and ends."""

NODES_AT_ONCE = 5_000
"""Between two looks at the clock."""


Flags = NDArray[np.bool_]


class Branching:
    """A search for schedules shorter than `makespan`.

    `starts` is None until one is found; `proven` says that there is none shorter than `makespan`, and
    `given_up` that the search ran out of room.
    """

    def __init__(self, *, project: Project, makespan: int) -> None:
        n, levels = project.count, LEVELS_PER_ACTIVITY * project.count + 2
        self._problem = _problem(project)
        self._memory = (
            np.zeros(REMEMBERED, dtype=np.uint64),
            np.zeros((REMEMBERED, 2), dtype=np.int64),
            np.zeros((REMEMBERED, n), dtype=np.int32),
        )
        self._stack = (
            np.full((levels, n), -1, dtype=np.int64),
            np.zeros((levels, 2), dtype=np.uint64),
            np.zeros((levels, 4), dtype=np.int64),
            np.zeros(WAYS, dtype=np.uint64),
            np.zeros(WAYS, dtype=np.int64),
        )
        self._best = np.full(n, -1, dtype=np.int64)
        self._state = np.array([-1, makespan, 0], dtype=np.int64)
        self.proven = self.given_up = False

    @property
    def makespan(self) -> int:
        """The least that is known."""
        return int(self._state[1])

    @property
    def starts(self) -> tuple[int, ...] | None:
        """Those of the best schedule found here."""
        return None if self._best[0] < 0 else tuple(map(int, self._best))

    @property
    def nodes(self) -> int:
        """How many there were."""
        return int(self._state[2])

    def know(self, makespan: int) -> None:
        """A schedule as short as this is known; only shorter ones are of interest."""
        self._state[1] = min(self.makespan, makespan)

    def go_on(self) -> None:
        """For some more nodes, unless all is proven."""
        if self.proven or self.given_up:
            return
        outcome = explore(self._problem, self._memory, self._stack, self._best, self._state, NODES_AT_ONCE)
        self.given_up, self.proven = outcome == GAVE_UP, outcome == OVER


@dataclass(frozen=True, slots=True, kw_only=True)
class _Race:
    """Two searches of a project that tell each other what they found; each may run in a thread of its own."""

    both: tuple[Branching, Branching]
    budget: Budget
    nodes: float

    def go_on(self, one: Branching) -> None:
        """A few more nodes of one search, which knows what the other has."""
        one.know(min(each.makespan for each in self.both))
        one.go_on()

    def to_the_end(self, one: Branching) -> None:
        """All that is left of one search, until either is done."""
        while not (self.is_over() or one.given_up or one.nodes >= self.nodes):
            self.go_on(one)

    def is_over(self) -> bool:
        """Whether one has proven what both know, or both have given up, or time or nodes are spent."""
        least = min(one.makespan for one in self.both)
        proven = any(one.proven and one.makespan == least for one in self.both)
        spent = all(one.given_up or one.nodes >= self.nodes for one in self.both)
        return proven or spent or self.budget.left_s() <= 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Branched:
    """The least makespan known, its starts where they were found here, and whether none is shorter."""

    starts: tuple[int, ...] | None
    makespan: int
    proven: bool


def branched(
    *, project: Project, makespan: int, budget: Budget, nodes: float = float("inf"), workers: int = 1
) -> Branched:
    """The project from its beginning and from its end, whichever is proven first: none tells beforehand which
    is by far the quicker. They take turns, or run side by side where there are two workers.

    Raises
    ------
    Stopped
        when the budget says so.
    """
    turned = replace(project, before=project.after)
    both = Branching(project=project, makespan=makespan), Branching(project=turned, makespan=makespan)
    race = _Race(both=both, budget=budget, nodes=nodes)
    if workers == 1:
        while not race.is_over():
            for one in both:
                race.go_on(one)
    else:
        with ThreadPoolExecutor(max_workers=2) as pool:
            tuple(pool.map(race.to_the_end, both))
    best = min(both, key=lambda one: (one.makespan, one.starts is None))
    starts = best.starts
    if starts is not None and best is both[1]:
        starts = tuple(best.makespan - s - d for s, d in zip(starts, project.lengths, strict=True))
    proven = any(one.proven and one.makespan == best.makespan for one in both)
    return Branched(starts=starts, makespan=best.makespan, proven=proven)


def _problem(project: Project) -> Problem:
    n = project.count
    lengths = np.array(project.lengths, dtype=np.int64)
    demands = np.array(project.demands, dtype=np.int64).reshape(n, len(project.capacities))
    demands[lengths == 0] = 0  # what takes no time is in nobody's way
    capacities = np.array(project.capacities, dtype=np.int64)
    linked = _linked(project)
    clash = (demands[:, None, :] + demands[None, :, :] > capacities).any(axis=2)
    together = linked | linked.T | clash
    np.fill_diagonal(together, val=False)
    order = np.lexsort((-lengths, -together.sum(axis=1)))
    tails = _tails(project, linked, together, lengths, demands, capacities)
    return (
        lengths, demands, capacities, tails,
        _sets(np.array([[j in row for j in range(n)] for row in project.before])), _sets(together),
        order.astype(np.int64), np.argsort(lengths - tails, kind="stable").astype(np.int64),
    )  # fmt: skip


def _tails(
    project: Project, linked: Flags, together: Flags, lengths: Whole, demands: Whole, capacities: Whole
) -> Whole:
    """At least so long from each activity's start to the end: by the longest path, by the work of all that
    follows, and by those that follow of which no two go together."""
    tails = lengths.copy()
    for i in reversed(project.order()):
        later = np.flatnonzero(linked[i])
        if not len(later):
            continue
        behind = tails[later] - lengths[later]
        later = later[np.argsort(-behind, kind="stable")]
        behind = (tails - lengths)[later]
        least = int(tails[later].max())
        work = np.cumsum(lengths[later, None] * demands[later], axis=0)
        least = max(least, int((-(-work // np.maximum(capacities, 1)) + behind[:, None]).max(initial=0)))
        for first in later:
            group = [first]
            for j in later:
                if j != first and together[j, group].all():
                    group.append(j)
            least = max(least, int(lengths[group].sum() + (tails - lengths)[group].min()))
        tails[i] = lengths[i] + least
    return tails


def _linked(project: Project) -> Flags:
    """[i, j]: i must have ended before j begins, directly or by way of others."""
    linked = np.zeros((project.count, project.count), dtype=np.bool_)
    for j in project.order():
        for i in project.before[j]:
            linked[:, j] |= linked[:, i]
            linked[i, j] = True
    return linked


def _sets(rows: Flags) -> Sets:
    bits = np.uint64(1) << np.arange(rows.shape[1], dtype=np.uint64)
    return np.asarray((rows * bits).sum(axis=1, dtype=np.uint64))
