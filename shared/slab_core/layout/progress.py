"""How far a crew has come with a planned floor: what lies in each run, and which runs may be gone on with."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from slab_core.errors import InputRefused, Problem
from slab_core.layout.distances import NO_CUT_M
from slab_core.layout.model import RowRun
from slab_core.numerics.grid import Floats

_REACHED_M = 0.002
"""Boards whose lengths were measured by tape end this near to where their sum says."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidRun:
    """Lengths of the pieces that lie in one run, from its start on, metres."""

    row: int
    run: int
    lengths_m: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenRun:
    """A run that is not full: where its next piece begins, and how far the row before is laid behind it."""

    run: RowRun
    order: int
    at_m: float
    backed_to_m: float

    def rest_m(self) -> float:
        """What is left to lay."""
        return self.run.end_m - self.at_m


class Progress:
    """The runs of a plan with what lies in them. Lengths and places in metres, in the plan's turned frame."""

    def __init__(self, *, runs: Sequence[RowRun], laid: Sequence[LaidRun]) -> None:
        """Put together plan and state.

        Raises
        ------
        InputRefused
            for a run that the plan does not have, one named twice, and pieces that reach beyond its end; the
            pointers are into a document that holds `laid` and its `lengths`.
        """
        self._runs = {(run.row, run.run): run for run in runs}
        self._ends: dict[tuple[int, int], Floats] = {}
        problems = tuple(problem for place, of in enumerate(laid) if (problem := self._add(of, place=place)))
        if problems:
            raise InputRefused(problems)

    def _add(self, laid: LaidRun, *, place: int) -> Problem | None:
        key = (laid.row, laid.run)
        if (run := self._runs.get(key)) is None:
            count = sum(row == laid.row for row, _ in self._runs)
            have = f"row {laid.row} has {count} runs" if count else f"the rows are 1 to {self._last_row()}"
            detail = f"the plan has no run {laid.run} in row {laid.row}; {have}"
            return _refusal("run-unknown", detail, f"/laid/{place}")
        if key in self._ends:
            detail = f"run {laid.run} of row {laid.row} is named twice; give all its pieces in one place"
            return _refusal("run-named-twice", detail, f"/laid/{place}")
        ends = self._ends[key] = run.start_m + np.cumsum(laid.lengths_m)
        over = np.flatnonzero(ends > run.end_m + max(NO_CUT_M, _REACHED_M) * len(ends))
        if not len(over):
            return None
        detail = (
            f"this piece ends {ends[over[0]] - run.start_m:.3f} m from the start of run {laid.run} of row "
            f"{laid.row}, which is {run.end_m - run.start_m:.3f} m long; give the lengths as they were cut"
        )
        return _refusal("laid-past-end", detail, f"/laid/{place}/lengths/{over[0]}")

    def _last_row(self) -> int:
        return max((row for row, _ in self._runs), default=0)

    def joints_m(self, row: int) -> Floats:
        """Joints between the pieces of a row."""
        found = [
            ends[ends < self._runs[key].end_m - _REACHED_M]
            for key, ends in self._ends.items()
            if key[0] == row
        ]
        return np.concatenate(found) if found else np.zeros(0)

    def open_runs(self, *, rows: int) -> list[OpenRun]:
        """Runs to go on with, in laying order: those of so many rows from the first that is not full."""
        found = [run for run in map(self._open, self._runs.values()) if run.rest_m() > _REACHED_M]
        last = found[0].run.row + rows if found else 0
        return [run for run in found if run.run.row < last]

    def _open(self, run: RowRun) -> OpenRun:
        at, order = self._reached(run)
        behind = [
            (other.start_m, self._reached(other)[0], other.end_m)
            for other in self._runs.values()
            if other.row == run.row - 1 and other.start_m < run.end_m and other.end_m > run.start_m
        ]
        waits = [reached for _, reached, end in behind if reached < end - _REACHED_M and end > at]
        return OpenRun(run=run, order=order, at_m=at, backed_to_m=min(waits, default=float("inf")))

    def _reached(self, run: RowRun) -> tuple[float, int]:
        ends = self._ends.get((run.row, run.run))
        return (float(ends[-1]), len(ends) + 1) if ends is not None and len(ends) else (run.start_m, 1)


def _refusal(code: str, detail: str, pointer: str) -> Problem:
    return Problem(code=code, detail=detail, pointer=pointer, severity="refusal")
