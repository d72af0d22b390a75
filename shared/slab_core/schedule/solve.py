"""The plan of one crew by OR-tools CP-SAT, on the axis of worked slots.

Work lives on worked slots, where a night has no length; waits live on elapsed minutes. An activity whose
end starts a wait, or whose start ends one, has its place in elapsed time as a second variable:
minutes = 5 x slot + the offset of the stretch of work that holds the slot.
"""

from __future__ import annotations

from math import isfinite

from ortools.sat.python import cp_model

from slab_core.schedule.axis import SLOT_MINUTES, Axis, Piece
from slab_core.schedule.bounds import one_at_a_time
from slab_core.schedule.grid import Answer, Puzzle

EFFORT = 0.4
"""Deterministic time (roughly seconds) after which the best plan found is taken: results repeat."""


class _Model:
    """Variables of one puzzle within a horizon."""

    def __init__(self, *, puzzle: Puzzle, axis: Axis, heads: list[int], horizon: int) -> None:
        self.puzzle, self.axis, self.heads, self.horizon = puzzle, axis, heads, horizon
        self.model = cp_model.CpModel()
        self.starts = [self._start(i) for i in range(puzzle.count)]
        self.finish = self.model.new_int_var(0, horizon, "finish")
        self._minutes: dict[tuple[int, bool], cp_model.LinearExpr] = {}
        self._pieces: list[tuple[int, int, Piece, cp_model.IntVar]] = []

    def _start(self, index: int) -> cp_model.IntVar:
        last = self.horizon - self.puzzle.durations[index]
        spans = [[self.heads[index], last]]
        if self.puzzle.whole[index]:
            spans = self._within_days(self.heads[index], last, self.puzzle.durations[index])
        return self.model.new_int_var_from_domain(cp_model.Domain.from_intervals(spans), f"start {index}")

    def _within_days(self, first: int, last: int, length: int) -> list[list[int]]:
        spans, begin = [], 0
        for end in self.axis.day_last:
            low, high = max(first, begin), min(last, end - length)
            if low <= high:
                spans.append([low, high])
            begin = end
        return spans

    def minutes(self, *, index: int, at_end: bool) -> cp_model.LinearExpr:
        """Elapsed minute of the start or the end, counted from the first slot of the axis."""
        if (index, at_end) not in self._minutes:
            self._minutes[index, at_end] = self._elapsed(index, at_end)
        return self._minutes[index, at_end]

    def _elapsed(self, index: int, at_end: bool) -> cp_model.LinearExpr:
        shift = self.puzzle.durations[index] - 1 if at_end else 0
        first = self.heads[index] + shift
        pieces = [p for p in self.axis.pieces if p.last > first and p.first < self.horizon]
        chosen = [self.model.new_bool_var(f"piece {index}") for _ in pieces]
        self._pieces += [(index, shift, p, c) for p, c in zip(pieces, chosen, strict=True)]
        slot = self.starts[index] + shift
        self.model.add_exactly_one(chosen)
        self.model.add(slot >= sum(p.first * c for p, c in zip(pieces, chosen, strict=True)))
        self.model.add(slot <= sum((p.last - 1) * c for p, c in zip(pieces, chosen, strict=True)))
        origin = self.axis.pieces[0].offset
        offset = sum((p.offset - origin) * c for p, c in zip(pieces, chosen, strict=True))
        return SLOT_MINUTES * slot + offset + (SLOT_MINUTES if at_end else 0)

    def add_people_and_machines(self) -> None:
        puzzle, model = self.puzzle, self.model
        rows = range(puzzle.count)
        spans = [
            model.new_fixed_size_interval_var(self.starts[i], puzzle.durations[i], f"work {i}") for i in rows
        ]
        model.add_cumulative(spans, list(puzzle.people), puzzle.crew)
        for group in one_at_a_time(puzzle=puzzle):
            model.add_no_overlap([spans[i] for i in group])
        for i in rows:
            model.add(self.finish >= self.starts[i] + puzzle.durations[i])

    def add_hints(self, *, hint: tuple[int, ...]) -> None:
        """A whole plan, with every helping variable, so that the solver has it as its first answer."""
        for var, start in zip(self.starts, hint, strict=True):
            self.model.add_hint(var, start)
        for index, shift, piece, chosen in self._pieces:
            self.model.add_hint(chosen, piece.first <= hint[index] + shift < piece.last)
        ends = (s + d for s, d in zip(hint, self.puzzle.durations, strict=True))
        self.model.add_hint(self.finish, max(ends))

    def add_lags(self, *, soft: bool) -> list[cp_model.IntVar]:
        """Every lag; with `soft` the greatest ones may be exceeded, and the excess minutes are returned."""
        excess = []
        for link in self.puzzle.links:
            self.model.add(
                self.starts[link.later] >= self.starts[link.earlier] + self.puzzle.durations[link.earlier]
            )
            if link.least <= 0 and link.greatest is None:
                continue
            wait = self.minutes(index=link.later, at_end=False) - self.minutes(
                index=link.earlier, at_end=True
            )
            self.model.add(wait >= link.least)
            if link.greatest is not None and not soft:
                self.model.add(wait <= link.greatest)
            elif link.greatest is not None:
                excess.append(self.model.new_int_var(0, 60 * 24 * 365, "excess"))
                self.model.add(wait <= link.greatest + excess[-1])
        return excess


def solve(
    *,
    puzzle: Puzzle,
    axis: Axis,
    heads: list[int],
    hint: tuple[int, ...],
    horizon: int,
    soft: bool,
    seconds: float,
) -> Answer | None:
    """The earliest finish within `horizon` slots, started from a known plan; None when none was found.

    With `soft`, greatest lags are kept as far as possible first (least excess in minutes), then the finish
    counts. One worker, fixed seed, and a limit of deterministic time, so that the answer repeats unless
    the wall clock (`seconds`) ends it.
    """
    built = _Model(puzzle=puzzle, axis=axis, heads=heads, horizon=horizon)
    built.add_people_and_machines()
    excess = built.add_lags(soft=soft)
    built.model.minimize(built.finish + (horizon + 1) * sum(excess))
    built.add_hints(hint=hint)
    solver = _solver(seconds=seconds)
    status = solver.solve(built.model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    starts = tuple(int(solver.value(var)) for var in built.starts)
    bound = 0 if soft else int(-(-solver.best_objective_bound // 1))
    return Answer(starts=starts, bound=bound, optimal=status == cp_model.OPTIMAL)


def _solver(*, seconds: float) -> cp_model.CpSolver:
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = EFFORT
    if isfinite(seconds):
        solver.parameters.max_time_in_seconds = max(0.01, seconds)
    return solver
