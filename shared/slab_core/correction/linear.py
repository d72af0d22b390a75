"""A small linear programme whose rows arrive one by one, on one thread, solved again from where it stood."""

from dataclasses import dataclass

import highspy
import numpy as np

from slab_core.errors import SlabError
from slab_core.numerics.grid import Floats

_ENDED = (highspy.HighsModelStatus.kOptimal, highspy.HighsModelStatus.kInfeasible)

SMALL = 1e-9
"""Smaller coefficients are dropped by the solver with a warning."""


class SolverFailed(SlabError):
    """The solver did not take an option or ended in a state that proves nothing."""

    code = "solver-failed"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Answer:
    """Values of the variables and the objective."""

    x: Floats
    objective: float


class LinearProgramme:
    """min cost·x with bounds on x and rows low <= coefficients·x <= high."""

    def __init__(self, *, cost: Floats, low: Floats, high: Floats) -> None:
        # The class behind highspy.Highs: its wrapper prints a banner before it can be told to be silent.
        self._highs = highspy._Highs()  # type: ignore[attr-defined]  # exported, but not in its stubs
        for name, value in (("output_flag", False), ("threads", 1), ("random_seed", 0)):
            self._must(self._highs.setOptionValue(name, value), what=f"option {name}")
        count = len(cost)
        self._columns = np.arange(count, dtype=np.int32)
        self._must(self._highs.addVars(count, low, high), what="variables")
        self._must(self._highs.changeColsCost(count, self._columns, cost), what="costs")

    def add_row(self, *, coefficients: Floats, low: float = -np.inf, high: float = np.inf) -> None:
        """One more constraint; coefficients too small for the solver to keep count as zero."""
        used = np.flatnonzero(np.abs(coefficients) > SMALL)
        self._must(
            self._highs.addRow(low, high, len(used), self._columns[used], coefficients[used]), what="row"
        )

    def set_cost(self, cost: Floats) -> None:
        """Another objective over the same rows."""
        self._must(self._highs.changeColsCost(len(cost), self._columns, cost), what="costs")

    def set_bounds(self, *, column: int, low: float, high: float) -> None:
        """Another range of one variable."""
        self._must(self._highs.changeColBounds(column, low, high), what="bounds")

    def solve(self) -> Answer | None:
        """The optimum, or None if the rows contradict each other.

        Raises
        ------
        SolverFailed
            unbounded, or the solver gave up.
        """
        status = self._run()
        if status not in _ENDED:
            # Numbers that went astray on the way from the last solve are put right by a fresh start.
            self._must(self._highs.clearSolver(), what="fresh start")
            status = self._run()
        if status == highspy.HighsModelStatus.kInfeasible:
            return None
        if status != highspy.HighsModelStatus.kOptimal:
            raise SolverFailed(f"linear programme ended as {self._highs.modelStatusToString(status)}")
        x = np.array(self._highs.getSolution().col_value)
        return Answer(x=x, objective=float(self._highs.getObjectiveValue()))

    def _run(self) -> highspy.HighsModelStatus:
        if self._highs.run() == highspy.HighsStatus.kError:
            raise SolverFailed("the solver refused: run")
        status: highspy.HighsModelStatus = self._highs.getModelStatus()
        return status

    def _must(self, status: highspy.HighsStatus, *, what: str) -> None:
        if status != highspy.HighsStatus.kOk:
            raise SolverFailed(f"the solver refused: {what}")
