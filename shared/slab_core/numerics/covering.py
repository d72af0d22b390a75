"""Least-cost covering: columns, each with a price, taken so often that every row's demand is met."""

from dataclasses import dataclass
from math import isfinite

import highspy
import numpy as np

from slab_core.numerics.grid import Floats
from slab_core.numerics.highs import SolverFailed, must, run, silent_highs

_STATUS = highspy.HighsModelStatus
_CUT_SHORT = (_STATUS.kTimeLimit, _STATUS.kSolutionLimit, _STATUS.kInterrupt)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Relaxed:
    """Optimum where parts of a column may be taken: how often each is, and what a unit of each row costs."""

    x: Floats
    duals: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Whole:
    """Best whole counts found below the limit asked for, if any; `ended`: there are none better."""

    x: Floats | None
    ended: bool


class Covering:
    """min price·x with x >= 0 and columns·x >= demand, on one thread. Columns arrive while it is solved."""

    def __init__(self, *, demands: Floats) -> None:
        self._highs = silent_highs()
        for demand in demands:
            must(self._highs.addRow(float(demand), np.inf, 0, _NONE, _NOTHING), what="row")

    def add_column(self, *, price: float, column: Floats) -> None:
        """One more column; `column` has an entry for each row."""
        rows = np.flatnonzero(column).astype(np.int32)
        must(self._highs.addCol(price, 0.0, np.inf, len(rows), rows, column[rows]), what="column")

    def demand(self, demands: Floats) -> None:
        """Other demands of the same rows."""
        for row, demand in enumerate(demands):
            must(self._highs.changeRowBounds(row, float(demand), np.inf), what="demand")

    def relax(self) -> Relaxed:
        """The optimum in parts.

        Raises
        ------
        SolverFailed
            a row that no column covers, or the solver gave up.
        """
        if (status := run(self._highs)) != _STATUS.kOptimal:
            raise SolverFailed(f"covering ended as {self._highs.modelStatusToString(status)}")
        solution = self._highs.getSolution()
        return Relaxed(x=np.array(solution.col_value), duals=np.maximum(solution.row_dual, 0.0))


def cover_whole(
    *,
    prices: Floats,
    columns: Floats,
    demands: Floats,
    greatest: Floats,
    at_most: float,
    nodes: int,
    left_s: float,
) -> Whole:
    """Whole counts that cost at most `at_most` and meet no row more than `greatest`, from columns of shape
    (rows, columns); the cheapest, or as far as `nodes` of the search and the time reach.

    Raises
    ------
    SolverFailed
        the solver gave up.
    """
    highs = silent_highs()
    must(highs.setOptionValue("mip_max_nodes", nodes), what="option mip_max_nodes")
    must(highs.setOptionValue("mip_rel_gap", 0.0), what="option mip_rel_gap")
    if isfinite(left_s):
        must(highs.setOptionValue("time_limit", left_s), what="option time_limit")
    count = len(prices)
    places = np.arange(count, dtype=np.int32)
    must(highs.addVars(count, np.zeros(count), np.full(count, np.inf)), what="variables")
    must(highs.changeColsCost(count, places, prices), what="prices")
    whole = np.full(count, int(highspy.HighsVarType.kInteger), dtype=np.uint8)
    must(highs.changeColsIntegrality(count, places, whole), what="whole counts")
    for row, demand, most in zip(columns, demands, greatest, strict=True):
        used = np.flatnonzero(row).astype(np.int32)
        must(highs.addRow(float(demand), float(most), len(used), used, row[used]), what="row")
    must(highs.addRow(-np.inf, at_most, count, places, prices), what="limit")
    status = run(highs)
    if status == _STATUS.kInfeasible:
        return Whole(x=None, ended=True)
    if status != _STATUS.kOptimal and status not in _CUT_SHORT:
        raise SolverFailed(f"covering ended as {highs.modelStatusToString(status)}")
    found = highs.getInfo().primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible
    x = np.rint(highs.getSolution().col_value) if found else None
    return Whole(x=x, ended=status == _STATUS.kOptimal)


_NONE, _NOTHING = np.zeros(0, dtype=np.int32), np.zeros(0)
