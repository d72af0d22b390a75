"""A genetic search over serial schedules, restarted when it has grown calm."""

from __future__ import annotations

import numpy as np

from slab_core.numerics.budget import Budget
from slab_core.schedule.project.kernels import Floats, Net, Side, Whole, evolve
from slab_core.schedule.project.model import Project

WORD_BITS = 62
"""Of a signed word of 64 bits, one left free so that no difference overflows."""

PATIENCE = 10
"""Generations without any change for the better after which the population is sampled anew."""

PASSES = 3
"""Serial schedules made for one child: forward, to the right, to the left."""

MUTATION: Floats = np.array([0.3, 0.05, 0.1])
"""Chance that a stretch is mixed anew; else that neighbours change places; the stretch's part of the list.
Chosen on instances that do not judge the search."""


class Genetic:
    """One search: `starts` and `makespan` are the best so far, `schedules` counts serial schedules made."""

    def __init__(self, *, project: Project, population: int, seed: int = 1) -> None:
        n = project.count
        self._net = _net(project)
        self._tails = np.array(project.tails(), dtype=float)
        self._lists = np.zeros((population, n), dtype=np.int64)
        self._spans = np.zeros(population, dtype=np.int64)
        self._marks = np.zeros(population, dtype=np.uint64)
        self._best = np.zeros(n, dtype=np.int64)
        self._state = np.array([seed * 2654435761 + 88172645463325252, sum(project.lengths) + 1], np.uint64)
        self.schedules = 0

    @property
    def starts(self) -> tuple[int, ...]:
        """Starts of the best schedule."""
        return tuple(map(int, self._best))

    @property
    def makespan(self) -> int:
        """End of the best schedule."""
        return int(self._state[1])

    def run(self, *, budget: Budget, schedules: float, good_enough: int) -> None:
        """Search until so many schedules have been made, the time is over, or the makespan is good enough."""
        calm, last = 0, (0, 0)
        while True:
            self._generation()
            now = (int(self._spans.min()), int(self._spans.sum()))
            calm, last = (calm + 1 if now == last else 0), now
            if calm >= PATIENCE:
                self._spans[:] = 0
            over = self.schedules >= schedules or self.makespan <= good_enough
            if over or budget.left_s() <= 0:
                return

    def _generation(self) -> None:
        born = len(self._spans) + int((self._spans == 0).sum())
        population = (self._lists, self._spans, self._marks)
        evolve(population, len(self._spans), self._tails, self._net, self._best, self._state, MUTATION)
        self.schedules += PASSES * born


def _net(project: Project) -> Net:
    lengths = np.array(project.lengths, dtype=np.int64)
    return (lengths, *_packed(project), _rows(project.before), _rows(project.after))


def _packed(project: Project) -> tuple[Whole, Whole, Whole]:
    """Demands, capacities and guard bits, as many resources in a word as fit."""
    fields, word, shift = [], 0, 0
    for capacity in project.capacities:
        bits = capacity.bit_length() + 1
        if shift + bits > WORD_BITS:
            word, shift = word + 1, 0
        fields.append((word, shift, bits))
        shift += bits
    packed = np.zeros((project.count, word + 1), dtype=np.int64)
    full, guards = np.zeros(word + 1, dtype=np.int64), np.zeros(word + 1, dtype=np.int64)
    demands = np.array(project.demands, dtype=np.int64).reshape(project.count, len(fields))
    for k, (at, shift, bits) in enumerate(fields):
        guards[at] |= 1 << (shift + bits - 1)
        full[at] |= (1 << (shift + bits - 1)) | (project.capacities[k] << shift)
        packed[:, at] |= demands[:, k] << shift
    return packed, full, guards


def _rows(rows: tuple[tuple[int, ...], ...]) -> Side:
    """Rows one after the other, and where each begins."""
    pointers = np.concatenate([[0], np.cumsum([len(row) for row in rows])]).astype(np.int64)
    return pointers, np.array([one for row in rows for one in row], dtype=np.int64)
