"""Rows of the unrestricted optimum: lies of a straightedge that the corrected heights must not break.

The edge on supports a and b, in steps from node k along one direction, leaves the gap
λ t_a + (1 - λ) t_b - t_k, λ = b / (b - a); the rise is its mirror. A support between two nodes is their mean.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from slab_core.correction.optimum.model import Lies
from slab_core.numerics.grid import Floats, Ints
from slab_core.tolerance.lattice import direction_array

WIDTH = 5
"""Entries of a row: the node, one support on a node, two for one that may lie between nodes, and one for
whatever gives way. An end between nodes is that of a whole edge, whose other end is on a node."""

ON_NODE = 1e-8


def all_of(parts: list[Lies]) -> Lies:
    """One after the other; no parts are no lies."""
    if not parts:
        none = np.zeros(0)
        whole = np.zeros(0, dtype=np.int64)
        return Lies(node=whole.reshape(0, 2), direction=whole, side=none, a=none, b=none, gap_mm=none)
    return Lies(
        node=np.concatenate([part.node for part in parts]),
        direction=np.concatenate([part.direction for part in parts]),
        side=np.concatenate([part.side for part in parts]),
        a=np.concatenate([part.a for part in parts]),
        b=np.concatenate([part.b for part in parts]),
        gap_mm=np.concatenate([part.gap_mm for part in parts]),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rows:
    """R rows Σ weight · x[column] <= limit, shape (R, `WIDTH`); unused entries have no weight.

    `origin` numbers the lies that they come from, in the order in which they were found; -1 for other rows.
    """

    column: Ints
    weight: Floats
    limit: Floats
    origin: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.limit)

    def only(self, chosen: NDArray[np.bool_] | NDArray[np.int64]) -> "Rows":
        """The chosen ones, by mark or in the order of their numbers."""
        return Rows(
            column=self.column[chosen],
            weight=self.weight[chosen],
            limit=self.limit[chosen],
            origin=self.origin[chosen],
        )

    def and_more(self, more: "Rows") -> "Rows":
        """These and others after them."""
        return Rows(
            column=np.concatenate([self.column, more.column]),
            weight=np.concatenate([self.weight, more.weight]),
            limit=np.concatenate([self.limit, more.limit]),
            origin=np.concatenate([self.origin, more.origin]),
        )

    def left_over(self, x: Floats) -> Floats:
        """limit - Σ weight · x of every row."""
        return np.asarray(self.limit - (self.weight * x[self.column]).sum(axis=1), dtype=np.float64)


def no_rows() -> Rows:
    """No rows yet."""
    return Rows(
        column=np.zeros((0, WIDTH), dtype=np.int32),
        weight=np.zeros((0, WIDTH)),
        limit=np.zeros(0),
        origin=np.zeros(0, dtype=np.int64),
    )


def rows_of(*, lies: Lies, heights_mm: Floats, place: Ints, first: int = 0) -> Rows:
    """The lies, numbered from `first`, as rows over the changes of height; `place` (ny, nx) gives a node's
    column, -1 outside."""
    steps = direction_array()[lies.direction]
    share = lies.b / (lies.b - lies.a)
    column = np.zeros((len(lies), WIDTH), dtype=np.int32)
    weight = np.zeros((len(lies), WIDTH))
    rest = lies.gap_mm.copy()

    def enter(entry: int, along: NDArray[np.int64], value: Floats) -> None:
        j = lies.node[:, 0] + along * steps[:, 1]
        i = lies.node[:, 1] + along * steps[:, 0]
        column[:, entry] = place[j, i]
        weight[:, entry] = value * lies.side
        rest[:] -= weight[:, entry] * heights_mm[j, i]

    enter(0, np.zeros(len(lies), dtype=np.int64), np.full(len(lies), -1.0))
    on_node = np.abs(lies.a - np.round(lies.a)) <= ON_NODE
    enter(
        1, np.round(np.where(on_node, lies.a, lies.b)).astype(np.int64), np.where(on_node, share, 1.0 - share)
    )
    support, value = np.where(on_node, lies.b, lies.a), np.where(on_node, 1.0 - share, share)
    low = np.floor(support + ON_NODE).astype(np.int64)
    part = np.where(support - low > ON_NODE, support - low, 0.0)
    enter(2, low, value * (1.0 - part))
    enter(3, low + (part > 0.0), value * part)
    origin = first + np.arange(len(lies), dtype=np.int64)
    return Rows(column=column, weight=weight, limit=rest, origin=origin)
