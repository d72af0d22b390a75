"""One demand as columns and rows: the range of every node's change, and the straightedges that it breaks."""

import numpy as np

from slab_core.correction.optimum.model import Demand, Lies
from slab_core.correction.optimum.oracle import StraightedgeOracle
from slab_core.correction.optimum.rows import Rows, all_of, rows_of
from slab_core.correction.optimum.solver import Columns
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Ints

BREAK_MM = 0.005
"""Rows broken by less are not asked for: half of the violation that is allowed."""


def columns_of_demand(demand: Demand) -> Columns | None:
    """The range of every node's change and its prices; None where a fixed range lies beyond a cap."""
    inside, heights = demand.inside, demand.heights_mm[demand.inside]
    low = np.where(demand.keep_grinder_off[inside], 0.0, -demand.greatest_grind_mm)
    high = np.where(demand.keep_fill_off[inside], 0.0, demand.greatest_fill_mm)
    low = np.maximum(low, demand.lowest_mm[inside] - heights)
    high = np.minimum(high, demand.highest_mm[inside] - heights)
    if np.any(low > high):
        return None
    return Columns(
        low=low,
        high=high,
        up=demand.fill_weight[inside],
        down=demand.grind_weight[inside],
        fill=demand.fill_prices,
        grind=demand.grind_prices,
    )


def places_of(demand: Demand) -> Ints:
    """The column of every node, -1 outside, shape (ny, nx)."""
    place = np.full(demand.inside.shape, -1, dtype=np.int32)
    place[demand.inside] = np.arange(int(demand.inside.sum()), dtype=np.int32)
    return place


def on_grid(*, demand: Demand, values: Floats) -> Floats:
    """Values of the columns as (ny, nx), zero outside."""
    grid = np.zeros(demand.inside.shape)
    grid[demand.inside] = values
    return grid


class StraightedgeRows:
    """Looks for broken rows of one demand and keeps the lies they come from."""

    def __init__(self, *, demand: Demand, budget: Budget, known: Lies) -> None:
        self.demand, self.place, self.known = demand, places_of(demand), [known]
        self.count = len(known)
        self.heights_mm = np.where(demand.inside, demand.heights_mm, 0.0)
        self.oracle = StraightedgeOracle(
            step_m=demand.step_m, free=demand.free, rules=demand.rules, budget=budget
        )

    def __call__(self, x: Floats, wider_mm: float = 0.0) -> tuple[float, Rows]:
        """Worst violation in mm of the floor changed by x, and the rows that it breaks, where every rule's
        gap is `wider_mm` wider than it should be."""
        corrected = self.heights_mm + on_grid(demand=self.demand, values=x)
        found = self.oracle.broken(heights_mm=corrected, more_than_mm=wider_mm + BREAK_MM)
        rows = self.rows(found.lies)
        self.known.append(found.lies)
        self.count += len(found.lies)
        return found.violation_mm - wider_mm, rows

    def rows(self, lies: Lies) -> Rows:
        """The next lies as rows."""
        return rows_of(lies=lies, heights_mm=self.heights_mm, place=self.place, first=self.count)

    def lies(self, rows: Rows) -> Lies:
        """The lies of the rows."""
        return all_of(self.known).only(rows.origin)
