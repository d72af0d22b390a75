"""The least and the greatest slopes of a surface of bilinear cells, over boxes about nodes.

Nodes and cells are taken in square blocks, so that a box that is many steps wide costs no more than one of a
few steps; what is said of a block holds for each of its nodes.
"""

from dataclasses import dataclass
from math import ceil, floor

import numpy as np
from scipy.ndimage import maximum_filter, minimum_filter

from slab_core.numerics.grid import Floats, Mask


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A box about a node, in steps of the grid."""

    left: float
    right: float
    down: float
    up: float

    @staticmethod
    def around(steps: float) -> "Window":
        """As far on all sides."""
        return Window(left=-steps, right=steps, down=-steps, up=steps)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Extremes:
    """The least and greatest slope over a box about any node of a block, one value for each block; a box
    without any slope has infinite ones, the least above the greatest."""

    low: Floats
    high: Floats

    def spread(self) -> Floats:
        """The largest difference of two slopes, 0 where there is none."""
        return self.difference(self)

    def difference(self, other: "Extremes") -> Floats:
        """The largest difference of a slope here and one there, 0 where either has none."""
        most = np.maximum(self.high - other.low, other.high - self.low)
        return np.where(np.isfinite(most), most, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BlockSlopes:
    """The least and greatest slope along one line in blocks of `side` by `side` cells; infinite in blocks
    without any. There are blocks of nodes of this shape."""

    low: Floats
    high: Floats
    side: int
    shape: tuple[int, int]

    def within(self, window: Window) -> Extremes:
        """Over all blocks that a box about a node touches."""
        (found,) = self._over(window, sides=(1,))
        return found

    def ahead_and_behind(self, ahead: Window) -> Floats:
        """The largest difference of a slope in a box and one in that box turned half round about the node."""
        here, there = self._over(ahead, sides=(1, -1))
        return here.difference(there)

    def _over(self, window: Window, *, sides: tuple[int, ...]) -> tuple[Extremes, ...]:
        spans = self._span(window.down, window.up), self._span(window.left, window.right)
        size = tuple(last - first + 1 for first, last in spans)
        pad = [(max(abs(first), abs(last)) + 1,) * 2 for first, last in spans]
        low, high = (
            extreme(np.pad(cells, pad, constant_values=beyond), size=size, mode="constant", cval=beyond)
            for extreme, cells, beyond in (
                (minimum_filter, self.low, np.inf),
                (maximum_filter, self.high, -np.inf),
            )
        )
        made = []
        for side in sides:
            # A filter keeps what it finds in a window at the window's middle.
            at = tuple(
                slice(start, start + count)
                for (first, last), extent, (rim, _), count in zip(spans, size, pad, self.shape, strict=True)
                for start in (rim + (first if side > 0 else -last) + extent // 2,)
            )
            made.append(Extremes(low=low[at], high=high[at]))
        return tuple(made)

    def _span(self, low: float, high: float) -> tuple[int, int]:
        """The blocks of cells from the first to the last that an interval about a node of a block touches,
        counted from that block; turned about it they are those of the interval turned about the node. Cell c
        lies between the nodes c - 1 and c."""
        first, last = floor(round(low, 9)) + 1, ceil(round(high, 9))
        return ceil(first / self.side) - 1, ceil(last / self.side)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Slopes:
    """The least and greatest slope along x and y in every cell, rim included, shape (ny + 1, nx + 1);
    `known` cells have one."""

    x_low: Floats
    x_high: Floats
    y_low: Floats
    y_high: Floats
    known: Mask

    def along(self, line: tuple[float, float], *, side: int) -> BlockSlopes:
        """Along a line of unit length (x, y). In a bilinear cell the slope along x changes with y alone and
        the other way round, so the extremes are those of both sides together."""
        x, y = line
        low = np.minimum(x * self.x_low, x * self.x_high) + np.minimum(y * self.y_low, y * self.y_high)
        high = np.maximum(x * self.x_low, x * self.x_high) + np.maximum(y * self.y_low, y * self.y_high)
        ny, nx = low.shape
        return BlockSlopes(
            low=-most_in_blocks(np.where(self.known, -low, -np.inf), side=side),
            high=most_in_blocks(np.where(self.known, high, -np.inf), side=side),
            side=side,
            shape=(ceil((ny - 1) / side), ceil((nx - 1) / side)),
        )


def slopes_of(heights_m: Floats, *, step_m: float) -> Slopes:
    """Of heights (ny, nx) in metres that are not a number outside. What belongs to no cell with slopes along
    both sides, a strip one node wide, has none across."""
    z = np.pad(heights_m, 1, constant_values=np.nan)
    along_x, along_y = np.diff(z, axis=1) / step_m, np.diff(z, axis=0) / step_m
    x_low, x_high = _extremes(along_x[:-1], along_x[1:])
    y_low, y_high = _extremes(along_y[:, :-1], along_y[:, 1:])
    complete = ~(np.isnan(x_low) | np.isnan(y_low))
    return Slopes(
        x_low=np.nan_to_num(x_low),
        x_high=np.nan_to_num(x_high),
        y_low=np.nan_to_num(y_low),
        y_high=np.nan_to_num(y_high),
        known=complete | _has_lone(along_x, complete=complete) | _has_lone(along_y.T, complete=complete.T).T,
    )


def _has_lone(sides: Floats, *, complete: Mask) -> Mask:
    """Cells with a side, a row of them below and above each, that belongs to no complete cell."""
    around = np.pad(complete, ((1, 1), (0, 0)))
    lone = ~np.isnan(sides) & ~(around[:-1] | around[1:])
    return np.asarray(lone[:-1] | lone[1:])


def _extremes(one: Floats, other: Floats) -> tuple[Floats, Floats]:
    """The lower and the upper of two, of one where the other is not known."""
    return np.fmin(one, other), np.fmax(one, other)


def most_in_blocks(values: Floats, *, side: int) -> Floats:
    """The greatest value in every block of `side` by `side`, those at the end cut short."""
    pad = [(0, -extent % side) for extent in values.shape]
    whole = np.pad(values, pad, constant_values=-np.inf)
    rows, columns = (extent // side for extent in whole.shape)
    return np.asarray(whole.reshape(rows, side, columns, side).max(axis=(1, 3)), dtype=np.float64)
