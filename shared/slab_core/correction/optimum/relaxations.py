"""Which limits stop a floor that no heights can make pass, and by how little each alone has to give."""

from dataclasses import replace

import numpy as np

from slab_core.correction.optimum.floor import StraightedgeRows, columns_of_demand
from slab_core.correction.optimum.lattice import coarser
from slab_core.correction.optimum.model import Demand, DepthPrices, Limit, Relaxation
from slab_core.correction.optimum.rows import WIDTH, Rows, all_of
from slab_core.correction.optimum.solver import Columns, from_nothing, solve
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats

MOST_NODES = 3000
"""On larger floors the limits are tried on a coarser lattice: an answer in time, a little too low."""

MOST_MM = 150.0
"""More than this is no relaxation but another job."""

CLOSE_MM, VIOLATION_MM = 0.05, 0.02
"""Relaxations are told to a tenth of a millimetre."""

MET_MM = 0.1
_UNIT = DepthPrices(breaks_mm=np.zeros(0), per_mm=np.ones(1))


def relaxations(*, demand: Demand, budget: Budget) -> tuple[Relaxation, ...]:
    """Every limit that would do if it alone gave way, the least first; none if only several together would.

    Raises
    ------
    Stopped
        when the budget says so.
    """
    while demand.inside.sum() > MOST_NODES:
        demand = coarser(demand)
    found = []
    for limit in _candidates(demand):
        least = _least(demand=demand, limit=limit, budget=budget)
        if least is not None:
            found.append(Relaxation(limit=limit, least_mm=least))
    return tuple(sorted(found, key=lambda relaxation: relaxation.least_mm))


def _candidates(demand: Demand) -> list[Limit]:
    limits: list[Limit] = ["gap", "greatest-grind", "greatest-fill"]
    if (demand.inside & (demand.keep_grinder_off | demand.keep_fill_off)).any():
        limits.append("keep-outs")
    if (demand.inside & (np.isfinite(demand.lowest_mm) | np.isfinite(demand.highest_mm))).any():
        limits.append("fixed-ranges")
    return limits


def _least(*, demand: Demand, limit: Limit, budget: Budget) -> float | None:
    """How far one limit must give, in mm; 0 for keep-outs that would have to go; None if it is not enough."""
    if limit == "keep-outs":
        off = np.zeros_like(demand.inside)
        freed = replace(demand, keep_grinder_off=off, keep_fill_off=off)
        wider = _least(demand=freed, limit="gap", budget=budget)
        return 0.0 if wider is not None and wider <= MET_MM else None
    columns = _columns(demand=demand, limit=limit)
    if columns is None:
        return None
    look = _GivingRows(demand=demand, limit=limit, budget=budget)
    answer = solve(
        columns=columns, look=look, guess=from_nothing(columns=columns), gap=0.0, close=CLOSE_MM,
        violation_mm=VIOLATION_MM, budget=budget,
    )  # fmt: skip
    kept = answer.violation_mm <= VIOLATION_MM and not answer.impossible
    return float(answer.x[-1]) if kept else None


def _columns(*, demand: Demand, limit: Limit) -> Columns | None:
    """The nodes at no price, with the limit's own bounds out of the way, and last how far it gives."""
    free = np.full(demand.inside.shape, np.inf)
    wider = replace(
        demand,
        greatest_grind_mm=demand.greatest_grind_mm + MOST_MM * (limit == "greatest-grind"),
        greatest_fill_mm=demand.greatest_fill_mm + MOST_MM * (limit == "greatest-fill"),
        lowest_mm=-free if limit == "fixed-ranges" else demand.lowest_mm,
        highest_mm=free if limit == "fixed-ranges" else demand.highest_mm,
    )
    nodes = columns_of_demand(wider)
    if nodes is None:
        return None
    no_price = np.append(np.zeros_like(nodes.low), 1.0)
    return Columns(
        low=np.append(nodes.low, 0.0),
        high=np.append(nodes.high, MOST_MM),
        up=no_price,
        down=no_price,
        fill=_UNIT,
        grind=_UNIT,
    )


class _GivingRows:
    """Rows of the rules and of the limit that gives way, as far as they are broken."""

    def __init__(self, *, demand: Demand, limit: Limit, budget: Budget) -> None:
        self.demand, self.limit = demand, limit
        self.rules = StraightedgeRows(demand=demand, budget=budget, known=all_of([]))

    def __call__(self, x: Floats) -> tuple[float, Rows]:
        change, gives = x[:-1], float(x[-1])
        if self.limit == "gap":
            violation, rows = self.rules(change, wider_mm=gives)
            return violation, _giving(rows, last=len(change))
        violation, rows = self.rules(change)
        for sign, most in self._bounds():
            over = sign * change - most - gives
            violation = max(violation, float(over.max(initial=-np.inf)))
            broken = np.flatnonzero(over > VIOLATION_MM / 2)
            rows = rows.and_more(_bounded(nodes=broken, sign=sign, most=most[broken], last=len(change)))
        return violation, rows

    def _bounds(self) -> list[tuple[float, Floats]]:
        """(sign, most) with sign · change <= most + what the limit gives."""
        demand, inside = self.demand, self.demand.inside
        heights = demand.heights_mm[inside]
        if self.limit == "greatest-grind":
            return [(-1.0, np.full(len(heights), demand.greatest_grind_mm))]
        if self.limit == "greatest-fill":
            return [(1.0, np.full(len(heights), demand.greatest_fill_mm))]
        return [(-1.0, heights - demand.lowest_mm[inside]), (1.0, demand.highest_mm[inside] - heights)]


def _giving(rows: Rows, *, last: int) -> Rows:
    column, weight = rows.column.copy(), rows.weight.copy()
    column[:, -1], weight[:, -1] = last, -1.0
    return replace(rows, column=column, weight=weight)


def _bounded(*, nodes: np.ndarray, sign: float, most: Floats, last: int) -> Rows:
    column = np.zeros((len(nodes), WIDTH), dtype=np.int32)
    weight = np.zeros((len(nodes), WIDTH))
    column[:, 0], weight[:, 0] = nodes, sign
    rows = Rows(column=column, weight=weight, limit=most, origin=np.full(len(nodes), -1, dtype=np.int64))
    return _giving(rows, last=last)
