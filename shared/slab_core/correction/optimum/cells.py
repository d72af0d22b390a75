"""A floor by the means of cells of four nodes: depths that keep the rules keep them in the mean.

A row of the coarser lattice whose supports lie on its nodes is the mean of four rows of the finer one, each a
finer step aside, if the edge may lie there in all four places: an edge may rest on any two nodes within its
length. So the means of depths that keep the finer rows keep the coarser ones. Prices do not fall with depth,
so the mean of four depths costs no more than the depths do where each is weighed with the least of the four
weights (Jensen). Nodes beside the last whole cell cost nothing here. Hence the bound of the cells, or that no
depths keep their rows, holds for the finer lattice too, and so do those of cells of cells.

Every second node alone has fewer rows, all of them the finer lattice's own if their supports lie on such
nodes: where no depths keep those, none keep the finer ones. As nothing is averaged, ridges tell more there.

Rows with an end of the edge between two nodes are left out, and so are rules of chords, as an edge in a room
that is shorter rests on other nodes on either lattice.
"""

from dataclasses import replace
from typing import Any

import numpy as np

from slab_core.correction.optimum.floor import StraightedgeRows, columns_of_demand
from slab_core.correction.optimum.lattice import SHIFTS, coarser
from slab_core.correction.optimum.model import Demand
from slab_core.correction.optimum.rows import ON_NODE, Rows, all_of
from slab_core.correction.optimum.solver import from_nothing, solve
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Mask
from slab_core.tolerance.lattice import direction_array
from slab_core.tolerance.model import Rule

GAP, VIOLATION_MM, MOST_ROUNDS = 5e-3, 0.1, 30
"""Near enough; rounds are counted, as a bound holds wherever the work is stopped."""


def cells_of(demand: Demand) -> Demand:
    """The demand of the means of every four nodes."""
    inside = _every(demand.inside)
    steps = [
        _every(demand.free[d] & _ahead(demand.free[d], dx, dy)) & inside & _ahead(inside, dx, dy)
        for d, (dx, dy) in enumerate(direction_array())
    ]
    return replace(
        demand,
        step_m=2.0 * demand.step_m,
        heights_mm=_mean(demand.heights_mm),
        inside=inside,
        free=np.array(steps),
        rules=_no_chords(demand.rules),
        fill_weight=_least(demand.fill_weight),
        grind_weight=_least(demand.grind_weight),
        keep_grinder_off=_every(demand.keep_grinder_off),
        keep_fill_off=_every(demand.keep_fill_off),
        lowest_mm=_mean(demand.lowest_mm),
        highest_mm=_mean(demand.highest_mm),
    )


def cells_bound(*, demand: Demand, budget: Budget) -> float:
    """No depths that keep the rows between cells cost less; infinite where none do.

    Raises
    ------
    Stopped
        when the budget says so.
    """
    columns = columns_of_demand(demand)
    if columns is None:
        return np.inf
    answer = solve(
        columns=columns,
        look=_RowsOnNodes(demand=demand, budget=budget),
        guess=from_nothing(columns=columns),
        gap=GAP,
        violation_mm=VIOLATION_MM,
        budget=budget,
        most_rounds=MOST_ROUNDS,
    )
    return np.inf if answer.impossible else max(0.0, answer.bound)


def is_impossible(*, demand: Demand, budget: Budget) -> bool:
    """Whether it is proven by every second node that no depths keep the rules.

    Raises
    ------
    Stopped
        when the budget says so.
    """
    fewer = coarser(replace(demand, rules=_no_chords(demand.rules)))
    columns = columns_of_demand(fewer)
    if columns is None:
        return True
    answer = solve(
        columns=columns,
        look=_RowsOnNodes(demand=fewer, budget=budget),
        guess=from_nothing(columns=columns),
        gap=1.0,
        violation_mm=VIOLATION_MM,
        budget=budget,
        most_rounds=MOST_ROUNDS,
    )
    return answer.impossible


def _no_chords(rules: tuple[Rule, ...]) -> tuple[Rule, ...]:
    return tuple(rule for rule in rules if rule.kind != "chord")


class _RowsOnNodes:
    """Looks for broken rows both of whose supports lie on nodes."""

    def __init__(self, *, demand: Demand, budget: Budget) -> None:
        self.look = StraightedgeRows(demand=demand, budget=budget, known=all_of([]))

    def __call__(self, x: Floats) -> tuple[float, Rows]:
        _, rows = self.look(x)
        lies = self.look.lies(rows)
        whole = (_off(lies.a) <= ON_NODE) & (_off(lies.b) <= ON_NODE)
        rows = rows.only(whole)
        return float(-rows.left_over(x).min(initial=0.0)), rows


def _off(support: Floats) -> Floats:
    return np.asarray(np.abs(support - np.round(support)))


def _ahead(mark: Mask, dx: int, dy: int) -> Mask:
    """The marks one step on along a direction; nothing beyond the grid."""
    ny, nx = mark.shape
    out = np.zeros_like(mark)
    i0, i1 = max(0, -dx), min(nx, nx - dx)
    if dy < ny and i0 < i1:
        out[: ny - dy, i0:i1] = mark[dy:, i0 + dx : i1 + dx]
    return out


def _four(values: Any) -> Any:
    """The four nodes of every whole cell, shape (4, ny, nx)."""
    ny, nx = values.shape[0] // 2 * 2, values.shape[1] // 2 * 2
    return np.array([values[down:ny:2, right:nx:2] for down, right in SHIFTS])


def _mean(values: Floats) -> Floats:
    return np.asarray(_four(values).mean(axis=0))


def _least(values: Floats) -> Floats:
    return np.asarray(4.0 * _four(values).min(axis=0))


def _every(mark: Mask) -> Mask:
    return np.asarray(_four(mark).all(axis=0))
