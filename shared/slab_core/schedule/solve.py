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
from slab_core.schedule.grid import Answer, Mode, Places, Puzzle

EFFORT = 0.1
"""The solver's own measure of work after which the best plan found is taken, so that results repeat; a unit
was 5 to 10 s of one core here. Plans of one floor were all proven best within it, those of two were not."""

MOST_EXCESS = 60 * 24 * 365


class _Model:
    """Variables of one puzzle within a horizon of slots."""

    def __init__(self, *, puzzle: Puzzle, axis: Axis, heads: list[int], horizon: int) -> None:
        self.puzzle, self.axis, self.heads, self.horizon = puzzle, axis, heads, horizon
        self.model = cp_model.CpModel()
        self.rows = range(puzzle.count)
        self.chosen = [[self.model.new_bool_var("mode") for _ in modes] for modes in puzzle.modes]
        self.starts = [self._start(i) for i in self.rows]
        self.ends = [self.starts[i] + self._length(i) for i in self.rows]
        self.finish = self.model.new_int_var(0, horizon, "finish")
        self._minutes: dict[tuple[int, bool], cp_model.LinearExpr] = {}
        self._pieces: list[tuple[int, bool, Piece, cp_model.IntVar]] = []

    def _length(self, index: int) -> cp_model.LinearExpr:
        self.model.add_exactly_one(self.chosen[index])
        lengths = [mode.length for mode in self.puzzle.modes[index]]
        return cp_model.LinearExpr.weighted_sum(self.chosen[index], lengths)

    def _start(self, index: int) -> cp_model.IntVar:
        shortest = self.puzzle.modes[index][-1]
        start = self.model.new_int_var_from_domain(self._domain(index, shortest), f"start {index}")
        if self.puzzle.whole[index]:
            for mode, lit in zip(self.puzzle.modes[index], self.chosen[index], strict=True):
                allowed = self._domain(index, mode)
                self.model.add_linear_expression_in_domain(start, allowed).only_enforce_if(lit)
        return start

    def _domain(self, index: int, mode: Mode) -> cp_model.Domain:
        first, last = self.heads[index], self.horizon - mode.length
        if not self.puzzle.whole[index]:
            return cp_model.Domain(first, last)
        begins = (0, *self.axis.day_last)
        spans = [
            [max(first, begin), min(last, end - mode.length)]
            for begin, end in zip(begins, self.axis.day_last, strict=False)
        ]
        return cp_model.Domain.from_intervals([span for span in spans if span[0] <= span[1]])

    def minutes(self, *, index: int, at_end: bool) -> cp_model.LinearExpr:
        """Elapsed minute of the start or the end, counted from the first slot of the axis."""
        if (index, at_end) not in self._minutes:
            self._minutes[index, at_end] = self._elapsed(index, at_end)
        return self._minutes[index, at_end]

    def _elapsed(self, index: int, at_end: bool) -> cp_model.LinearExpr:
        first = self.heads[index] + (self.puzzle.shortest(index) - 1 if at_end else 0)
        pieces = [p for p in self.axis.pieces if p.last > first and p.first < self.horizon]
        chosen = [self.model.new_bool_var(f"piece {index}") for _ in pieces]
        self._pieces += [(index, at_end, p, c) for p, c in zip(pieces, chosen, strict=True)]
        slot = self.ends[index] - 1 if at_end else self.starts[index]
        self.model.add_exactly_one(chosen)
        self.model.add(slot >= sum(p.first * c for p, c in zip(pieces, chosen, strict=True)))
        self.model.add(slot <= sum((p.last - 1) * c for p, c in zip(pieces, chosen, strict=True)))
        origin = self.axis.pieces[0].offset
        offset = sum((p.offset - origin) * c for p, c in zip(pieces, chosen, strict=True))
        return SLOT_MINUTES * slot + offset + (SLOT_MINUTES if at_end else 0)

    def add_people_and_machines(self) -> None:
        spans = [self._spans(i) for i in self.rows]
        flat = [
            (span, mode.people)
            for i in self.rows
            for span, mode in zip(spans[i], self.puzzle.modes[i], strict=True)
        ]
        self.model.add_cumulative(
            [span for span, _ in flat], [people for _, people in flat], self.puzzle.crew
        )
        for group in one_at_a_time(puzzle=self.puzzle):
            self.model.add_no_overlap([span for i in group for span in spans[i]])
        for end in self.ends:
            self.model.add(self.finish >= end)

    def _spans(self, index: int) -> list[cp_model.IntervalVar]:
        """One interval for each mode; only the chosen one is there."""
        pairs = zip(self.puzzle.modes[index], self.chosen[index], strict=True)
        start = self.starts[index]
        return [
            self.model.new_optional_fixed_size_interval_var(start, mode.length, lit, f"work {index}")
            for mode, lit in pairs
        ]

    def add_bags_of_a_day(self) -> None:
        """No day begins pours of more bags than it takes; nothing to say where all of them fit into one."""
        most, pours = self.puzzle.day_load, [i for i in self.rows if self.puzzle.loads[i] > 0]
        if most <= 0 or sum(self.puzzle.loads) <= most:
            return
        by_day: dict[int, list[cp_model.LinearExpr]] = {}
        for index in pours:
            self.minutes(index=index, at_end=False)
        for index, at_end, piece, chosen in self._pieces:
            if not at_end and self.puzzle.loads[index] > 0:
                by_day.setdefault(piece.day, []).append(self.puzzle.loads[index] * chosen)
        for poured in by_day.values():
            self.model.add(sum(poured) <= most)

    def add_hints(self, *, hint: Places) -> None:
        """A whole plan, with every helping variable, so that the solver has it as its first answer."""
        self.model.add_hint(self.finish, hint.finish)
        for index in self.rows:
            self.model.add_hint(self.starts[index], hint.starts[index])
            for mode, lit in zip(self.puzzle.modes[index], self.chosen[index], strict=True):
                self.model.add_hint(lit, mode == hint.modes[index])
        for index, at_end, piece, chosen in self._pieces:
            slot = hint.end(index) - 1 if at_end else hint.starts[index]
            self.model.add_hint(chosen, piece.first <= slot < piece.last)

    def add_lags(self, *, soft: bool) -> list[cp_model.IntVar]:
        """Every lag; with `soft` the greatest ones may be exceeded, and the excess minutes are returned."""
        excess = []
        for link in self.puzzle.links:
            self.model.add(self.starts[link.later] >= self.ends[link.earlier])
            if link.least <= 0 and link.greatest is None:
                continue
            end = self.minutes(index=link.earlier, at_end=True)
            wait = self.minutes(index=link.later, at_end=False) - end
            self.model.add(wait >= link.least)
            if link.greatest is not None and not soft:
                self.model.add(wait <= link.greatest)
            elif link.greatest is not None:
                excess.append(self.model.new_int_var(0, MOST_EXCESS, "excess"))
                self.model.add(wait <= link.greatest + excess[-1])
        return excess

    def places(self, solver: cp_model.CpSolver) -> Places:
        """The plan that the solver holds."""
        modes = tuple(
            next(m for m, lit in zip(self.puzzle.modes[i], self.chosen[i], strict=True) if solver.value(lit))
            for i in self.rows
        )
        return Places(starts=tuple(int(solver.value(var)) for var in self.starts), modes=modes)


def solve(
    *, puzzle: Puzzle, axis: Axis, heads: list[int], hint: Places, horizon: int, soft: bool, seconds: float
) -> Answer | None:
    """The earliest finish within `horizon` slots, started from a known plan; None when none was found.

    With `soft`, greatest lags are kept as far as possible first (least excess in minutes), then the finish
    counts. One worker, fixed seed, and a limit of deterministic time, so that the answer repeats unless
    the wall clock (`seconds`) ends it.
    """
    built = _Model(puzzle=puzzle, axis=axis, heads=heads, horizon=horizon)
    built.add_people_and_machines()
    excess = built.add_lags(soft=soft)
    built.add_bags_of_a_day()
    built.model.minimize(built.finish + (horizon + 1) * sum(excess))
    built.add_hints(hint=hint)
    solver = _solver(seconds=seconds)
    status = solver.solve(built.model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    bound = 0 if soft else int(-(-solver.best_objective_bound // 1))
    return Answer(places=built.places(solver), bound=bound, optimal=status == cp_model.OPTIMAL)


def _solver(*, seconds: float) -> cp_model.CpSolver:
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = EFFORT
    if isfinite(seconds):
        solver.parameters.max_time_in_seconds = max(0.01, seconds)
    return solver
