"""A small linear programme whose rows arrive one by one, on one thread, solved again from where it stood."""

from dataclasses import dataclass

import highspy
import numpy as np

from slab_core.numerics.grid import Floats
from slab_core.numerics.highs import SolverFailed, must, run, silent_highs

_ENDED = (highspy.HighsModelStatus.kOptimal, highspy.HighsModelStatus.kInfeasible)

SMALL = 1e-9
"""Smaller coefficients are dropped by the solver with a warning."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Answer:
    """Values of the variables and the objective."""

    x: Floats
    objective: float


class LinearProgramme:
    """min cost·x with bounds on x and rows low <= coefficients·x <= high."""

    def __init__(self, *, cost: Floats, low: Floats, high: Floats) -> None:
        self._highs = silent_highs()
        count = len(cost)
        self._columns = np.arange(count, dtype=np.int32)
        must(self._highs.addVars(count, low, high), what="variables")
        must(self._highs.changeColsCost(count, self._columns, cost), what="costs")

    def add_row(self, *, coefficients: Floats, low: float = -np.inf, high: float = np.inf) -> None:
        """One more constraint; coefficients too small for the solver to keep count as zero."""
        used = np.flatnonzero(np.abs(coefficients) > SMALL)
        must(self._highs.addRow(low, high, len(used), self._columns[used], coefficients[used]), what="row")

    def set_cost(self, cost: Floats) -> None:
        """Another objective over the same rows."""
        must(self._highs.changeColsCost(len(cost), self._columns, cost), what="costs")

    def set_bounds(self, *, column: int, low: float, high: float) -> None:
        """Another range of one variable."""
        must(self._highs.changeColBounds(column, low, high), what="bounds")

    def solve(self) -> Answer | None:
        """The optimum, or None if the rows contradict each other.

        Raises
        ------
        SolverFailed
            unbounded, or the solver gave up.
        """
        status = run(self._highs)
        if status not in _ENDED:
            # Numbers that went astray on the way from the last solve are put right by a fresh start.
            must(self._highs.clearSolver(), what="fresh start")
            status = run(self._highs)
        if status == highspy.HighsModelStatus.kInfeasible:
            return None
        if status != highspy.HighsModelStatus.kOptimal:
            raise SolverFailed(f"linear programme ended as {self._highs.modelStatusToString(status)}")
        x = np.array(self._highs.getSolution().col_value)
        return Answer(x=x, objective=float(self._highs.getObjectiveValue()))
