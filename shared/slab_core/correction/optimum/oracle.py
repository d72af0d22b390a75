"""Which rows a corrected floor breaks: the tolerance code's departures, and how the edge lies at them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from slab_core.correction.optimum.model import Lies
from slab_core.correction.optimum.rows import all_of
from slab_core.correction.optimum.supports import supports
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Grid, Mask
from slab_core.tolerance.hulls import WHOLE
from slab_core.tolerance.lattice import direction_array
from slab_core.tolerance.model import Rule
from slab_core.tolerance.straightedge import departures_each_way

SHARE = 0.5
"""Of all directions at a node, those that break a rule by at least half of what the worst does."""

HAIR_MM = 1e-4
"""Lies are looked for that come so near to the departure which is known: nearly all others need no look."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Broken:
    """By how much the worst departure exceeds its rule (negative: it keeps it), and lies that break one."""

    violation_mm: float
    lies: Lies


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Over:
    """By how many mm (ny, nx) the nodes lie too far under an edge (side 1) or over it (side -1), and so
    `each_way` (16, ny, nx)."""

    rule: Rule
    side: float
    mm: Floats
    each_way: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StraightedgeOracle:
    """The rules of a floor on nodes `step_m` apart."""

    step_m: float
    free: Mask
    rules: tuple[Rule, ...]
    budget: Budget

    def broken(self, *, heights_mm: Floats, more_than_mm: float) -> Broken:
        """Heights (ny, nx) against every rule; lies are given where one is exceeded by more than so much.

        Raises
        ------
        Stopped
            when the budget says so.
        """
        over = self.over(heights_mm=heights_mm)
        return Broken(
            violation_mm=max((float(one.mm.max()) for one in over), default=-np.inf),
            lies=self.lies(over=over, heights_mm=heights_mm, more_than_mm=more_than_mm),
        )

    def over(self, *, heights_mm: Floats) -> tuple[Over, ...]:
        """How far heights (ny, nx) are beyond every rule, on both sides of the edge."""
        ny, nx = heights_mm.shape
        grid = Grid(x0_m=0.0, y0_m=0.0, step_m=self.step_m, nx=nx, ny=ny)
        made = []
        for rule in self.rules:
            found = departures_each_way(
                grid=grid, heights_m=heights_mm * 1e-3, free=self.free, rule=rule, budget=self.budget
            )
            for side, each_m in ((1.0, found[0]), (-1.0, found[1])):
                each = 1e3 * each_m.astype(np.float64) - 1e3 * rule.gap_m
                made.append(Over(rule=rule, side=side, mm=each.max(axis=0), each_way=each))
        return tuple(made)

    def lies(
        self, *, over: tuple[Over, ...], heights_mm: Floats, more_than_mm: float, where: Mask | None = None
    ) -> Lies:
        """How the edge lies where heights are beyond a rule by more than so much, at all nodes or `where`."""
        parts = []
        for one in over:
            broken = one.mm > more_than_mm
            nodes = np.argwhere(broken if where is None else broken & where)
            if len(nodes):
                parts.append(self._lies(over=one, heights_mm=heights_mm, nodes=nodes))
        return all_of(parts)

    def _lies(self, *, over: Over, heights_mm: Floats, nodes: NDArray[np.int64]) -> Lies:
        """How the edge lies worst at the nodes, in every direction in which it is nearly as bad as in any."""
        by = over.each_way[:, nodes[:, 0], nodes[:, 1]]
        direction, at = np.nonzero((by > 0.0) & (by >= SHARE * by.max(axis=0)))
        gap_mm = over.rule.gap_m * 1e3
        found = np.empty((len(at), 3))
        for d in np.unique(direction):
            here = direction == d
            found[here] = self._supports(
                over=over, heights_mm=heights_mm, direction=int(d), nodes=nodes[at[here]], by=by[d, at[here]]
            )
        return Lies(
            node=nodes[at],
            direction=direction,
            side=np.full(len(at), over.side),
            a=found[:, 1],
            b=found[:, 2],
            gap_mm=np.full(len(at), gap_mm),
        ).only(found[:, 0] > gap_mm)

    def _supports(
        self, *, over: Over, heights_mm: Floats, direction: int, nodes: NDArray[np.int64], by: Floats
    ) -> Floats:
        """(departure, a, b) in mm and steps, shape (n, 3)."""
        dx, dy = direction_array()[direction]
        rule = over.rule
        span = rule.length_m / (self.step_m * float(np.hypot(dx, dy)))
        return np.asarray(
            supports(
                heights_mm,
                self.free[direction],
                dx,
                dy,
                span,
                WHOLE,
                rule.kind == "chord",
                over.side,
                np.ascontiguousarray(nodes),
                rule.gap_m * 1e3 + np.maximum(by - HAIR_MM, 0.0),
            )
        )
