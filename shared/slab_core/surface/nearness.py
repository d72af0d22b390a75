"""How near readings lie to a place: the nearest, and the fourth nearest."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from slab_core.numerics.grid import Floats, Grid
from slab_core.numerics.kernel import kernel
from slab_core.surface.model import Spline

NEIGHBOURS = 4

FINE_STEP_M = 0.08
"""Distances to readings change so slowly that on a finer grid every second node tells them."""

READINGS_PER_CELL = 2.0
"""So that the cell of a place and the eight around it mostly hold its nearest five, and not many more."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Measured:
    """Places where something was read, sorted into square cells, row by row from (x0_m, y0_m).

    Those of cell c are `places[starts[c] : starts[c + 1]]`; `starts` has rows · columns + 1 items.
    """

    places: Floats
    starts: NDArray[np.int64]
    x0_m: float
    y0_m: float
    cell_m: float
    columns: int

    def distances(self, places: Floats, *, without_own: bool = False) -> tuple[Floats, Floats]:
        """Metres to the nearest and to the fourth nearest reading, of places of shape (n, 2).

        Of readings themselves, `without_own`; where there are too few, the last takes the fourth's part.
        """
        skip = int(without_own)
        last = min(NEIGHBOURS, len(self.places) - skip) - 1 + skip
        squared = np.empty((2, len(places)))
        in_cells = (places - (self.x0_m, self.y0_m)) / self.cell_m
        _squared_distances(
            places, in_cells, self.places, self.starts, self.cell_m, self.columns, skip, last, squared
        )
        nearest, fourth = np.sqrt(squared)
        return nearest, fourth

    def on_grid(self, grid: Grid) -> tuple[Floats, Floats]:
        """The same at a grid's nodes, shapes (ny, nx); on a fine grid between nodes twice as far apart."""
        if grid.step_m >= FINE_STEP_M:
            nearest, fourth = self.distances(grid.places())
            return nearest.reshape(grid.ny, grid.nx), fourth.reshape(grid.ny, grid.nx)
        half = replace(grid, step_m=2.0 * grid.step_m, nx=grid.nx // 2 + 1, ny=grid.ny // 2 + 1)
        rows, columns = _between(grid.ny), _between(grid.nx)
        nearest, fourth = (rows @ part @ columns.T for part in self.on_grid(half))
        return nearest, fourth


def _between(count: int) -> Floats:
    """Linear interpolation from every second of so many nodes, shape (count, count // 2 + 1)."""
    matrix = np.zeros((count, count // 2 + 1))
    at = np.arange(count)
    matrix[at, at // 2] = np.where(at % 2, 0.5, 1.0)
    matrix[at[1::2], at[1::2] // 2 + 1] = 0.5
    return matrix


def measured(*, x_m: Floats, y_m: Floats, weight: Floats) -> Measured:
    """The places that have weight in some observation; columns as in Observations."""
    used = weight != 0.0
    x, y = x_m[used], y_m[used]
    x0, y0 = float(x.min()), float(y.min())
    width, depth = float(x.max()) - x0, float(y.max()) - y0
    share = READINGS_PER_CELL / len(x)
    cell = max(float(np.sqrt(width * depth * share)), max(width, depth) * share, 1e-6)
    columns, rows = int(width / cell) + 1, int(depth / cell) + 1
    own = ((y - y0) / cell).astype(np.int64) * columns + ((x - x0) / cell).astype(np.int64)
    order = np.argsort(own, kind="stable")
    starts = np.concatenate([[0], np.cumsum(np.bincount(own, minlength=rows * columns))])
    places = np.column_stack([x[order], y[order]])
    return Measured(places=places, starts=starts, x0_m=x0, y0_m=y0, cell_m=cell, columns=columns)


def measured_by(spline: Spline) -> Measured:
    """The places whose readings a spline was fitted to."""
    return measured(x_m=spline.obs_x_m, y_m=spline.obs_y_m, weight=spline.obs_weight)


@kernel
def _squared_distances(
    at: Floats,
    in_cells: Floats,
    places: Floats,
    starts: NDArray[np.int64],
    cell_m: float,
    columns: int,
    skip: int,
    last: int,
    out: Floats,
) -> None:
    """Squared distances by rank, of ranks `skip` and `last` from 0, shape (2, n): cells are looked through
    in square rings around a place until no nearer reading can lie beyond them."""
    rows = (len(starts) - 1) // columns
    best = np.empty(last + 1)
    for i in range(len(at)):
        best[:] = np.inf
        cx, cy = int(np.floor(in_cells[i, 0])), int(np.floor(in_cells[i, 1]))
        in_x, in_y = in_cells[i, 0] - cx, in_cells[i, 1] - cy
        inner = min(min(in_x, 1.0 - in_x), min(in_y, 1.0 - in_y))
        done = -1
        ring = max(1, max(max(-cx, cx - columns + 1), max(-cy, cy - rows + 1)))
        while True:
            left, right = max(cx - ring, 0), min(cx + ring, columns - 1)
            for row in range(max(cy - ring, 0), min(cy + ring, rows - 1) + 1):
                at_row = row * columns
                if abs(row - cy) > done:
                    _look(at[i], places, starts[at_row + left], starts[at_row + right + 1], best)
                    continue
                if cx - done > left:
                    _look(at[i], places, starts[at_row + left], starts[at_row + cx - done], best)
                if cx + done < right:
                    _look(at[i], places, starts[at_row + cx + done + 1], starts[at_row + right + 1], best)
            whole = left == 0 and right == columns - 1 and cy - ring <= 0 and cy + ring >= rows - 1
            if whole or best[last] <= ((ring + inner) * cell_m) ** 2:
                break
            done = ring
            ring += 1
        out[0, i], out[1, i] = best[skip], best[last]


@kernel
def _look(at: Floats, places: Floats, first: int, end: int, best: Floats) -> None:
    """Let places take their ranks among the nearest, which are in order."""
    last = len(best) - 1
    for k in range(first, end):
        dx, dy = places[k, 0] - at[0], places[k, 1] - at[1]
        squared = dx * dx + dy * dy
        if squared < best[last]:
            rank = last
            while rank > 0 and best[rank - 1] > squared:
                best[rank] = best[rank - 1]
                rank -= 1
            best[rank] = squared
