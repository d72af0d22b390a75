"""Points, chunk by chunk, gathered into the cells of a floor in bounded memory."""

import math
from dataclasses import dataclass, field, replace

import numpy as np
import shapely

from slab_core.errors import refuse
from slab_core.numerics.grid import Floats, Grid, Ints, Mask
from slab_core.rooms.geometry import floor_polygon
from slab_core.rooms.model import Floor
from slab_core.scans.gather_kernels import TILE, Singles, assign, count, scatter
from slab_core.scans.model import Placement, ScanOptions
from slab_core.scans.pages import Block, group_shift

BLOCK_POINTS = 4_000_000
MOST_CELLS = 20_000_000
LEAST_CELLS = 9
GREATEST = float(np.finfo(np.float64).max)


def cells_over(*, floor: Floor, cell_m: float) -> tuple[Grid, Mask]:
    """The grid of the cells' middles over a floor, and which of them lie on it, shape (ny, nx).

    Raises InputRefused when the floor has too many cells, or is smaller than one.
    """
    shape = floor_polygon(floor)
    x0, y0, x1, y1 = shape.bounds
    nx, ny = (max(1, math.ceil((high - low) / cell_m - 1e-9)) for low, high in ((x0, x1), (y0, y1)))
    if nx * ny > MOST_CELLS:
        detail = (
            f"The floor has {nx * ny:,} cells of {cell_m * 1000:g} mm; at most {MOST_CELLS:,} can be used."
        )
        raise refuse(code="scan-cell-size", detail=f"{detail} Ask for larger cells.")
    left, low = (x0 + x1 - nx * cell_m) / 2, (y0 + y1 - ny * cell_m) / 2
    grid = Grid(x0_m=left + cell_m / 2, y0_m=low + cell_m / 2, step_m=cell_m, nx=nx, ny=ny)
    shapely.prepare(shape)
    on_floor = np.asarray(shapely.contains_xy(shape, *np.meshgrid(grid.xs(), grid.ys())), dtype=np.bool_)
    if np.count_nonzero(on_floor) < LEAST_CELLS:
        detail = f"Fewer than {LEAST_CELLS} cells of {cell_m * 1000:g} mm have their middle on the floor."
        raise refuse(code="scan-cell-size", detail=f"{detail} Ask for smaller cells.")
    return grid, on_floor


@dataclass(slots=True, kw_only=True)
class Gatherer:
    """Takes points in scanned coordinates; heights are kept less the placement's origin, in single precision.

    `step_m` is the step that the file's heights come in, where that is so large that it matters.
    Cells are numbered along x first.
    """

    grid: Grid
    on_floor: Mask
    placement: Placement
    options: ScanOptions
    step_m: float = 0.0
    read: int = 0
    outside: int = 0
    extent: Floats = field(default_factory=lambda: np.repeat([GREATEST, -GREATEST], 3))
    _blocks: list[Block] = field(default_factory=list)
    _arrived: Ints = field(init=False)
    _level: Ints = field(init=False)
    _frame: Floats = field(init=False)
    _cell: Ints = field(default_factory=lambda: np.empty(TILE, np.int32))
    _height: Singles = field(default_factory=lambda: np.empty(TILE, np.float32))

    def __post_init__(self) -> None:
        self._arrived = np.where(self.on_floor.ravel(), 0, -1).astype(np.int32)
        self._level = np.zeros(self._arrived.size, dtype=np.int32)
        self._frame = self._transform()

    def _transform(self) -> Floats:
        step, turn, (sx, sy, _) = self.grid.step_m, self.placement.turn_rad, self.placement.shift_m
        corner = ((sx - self.grid.x0_m) / step + 0.5, (sy - self.grid.y0_m) / step + 0.5)
        return np.array([*self.placement.origin_m, math.cos(turn) / step, math.sin(turn) / step, *corner])

    def add(self, points: Floats) -> None:
        """Take points, shape (n, 3). Raises InputRefused when one of them is not a number."""
        rest = np.ascontiguousarray(points, dtype=np.float64)
        while len(rest):
            rest = rest[self._take(rest) :]
            if self.held > self.options.budget_points:
                self._thin()

    def _take(self, points: Floats) -> int:
        """Take points while the last block has room; a new one is begun where it has none."""
        if not self._blocks:
            self._begin_block()
        block = self._blocks[-1]
        ny, nx = self.on_floor.shape
        taken, block.pages, outside, bad = assign(
            points[: self.options.budget_points],
            self._frame,
            (nx, ny),
            self._arrived,
            self._level,
            bool(self._level.any()),
            group_shift(self._arrived.size),
            self.extent,
            self._cell,
            self._height,
            self._height.view(np.int32),
            block.records,
            block.at,
            block.owner,
            block.pages,
        )
        if bad >= 0:
            detail = f"Point {self.read + bad + 1:,} of the scan is not a number."
            raise refuse(
                code="scan-point-not-a-number", detail=f"{detail} Export the scan without empty points."
            )
        self.read += taken
        self.outside += outside
        if not taken:
            self._begin_block()
        return taken

    def _begin_block(self) -> None:
        size = min(BLOCK_POINTS, max(1, self.options.budget_points))
        self._blocks.append(Block.for_points(size, cells=self._arrived.size))

    @property
    def held(self) -> int:
        """How many points are in memory."""
        return sum(block.points() for block in self._blocks)

    def _thin(self) -> None:
        """Halve the points of cells that hold more than a fair share, until half the budget is free."""
        share = self.options.budget_points // (4 * max(1, int(np.count_nonzero(self.on_floor))))
        while self.held > self.options.budget_points // 2:
            drop = (self._counts() > max(share, 2 * self.options.least_points)).astype(np.int32)
            if not drop.any():
                return
            seen = np.zeros_like(drop)
            self._blocks = [block.thinned(drop=drop, seen=seen) for block in self._blocks]
            self._level += drop

    def _counts(self) -> Ints:
        if not self._level.any():
            return np.maximum(self._arrived, 0)
        counts = np.zeros_like(self._level)
        for block in self._blocks:
            count(block.records, *block.by_group(), counts)
        return counts

    def merge(self, ordered: Singles, starts: Ints) -> tuple[Singles, Ints]:
        """Join the cells two by two in each direction, and with them the heights that `ordered` gave."""
        ny, nx = self.on_floor.shape
        across = (nx + 1) // 2
        group = ((np.arange(ny)[:, None] // 2) * across + np.arange(nx) // 2).ravel()
        size = across * ((ny + 1) // 2)
        order, counts = np.argsort(group, kind="stable"), np.diff(starts)
        held = np.bincount(group, weights=counts, minlength=size).astype(np.int32)
        moved = np.zeros(size + 1, dtype=np.int32)
        np.cumsum(held, out=moved[1:])
        before = np.cumsum(counts[order]) - counts[order]
        rows = np.repeat(starts[:-1][order] - before, counts[order]) + np.arange(len(ordered))
        # A square counts as floor when half of it is.
        parts = np.bincount(group, weights=self.on_floor.ravel(), minlength=size).reshape(-1, across)
        self.on_floor = np.asarray(parts >= 2)
        arrived = np.bincount(group, weights=np.maximum(self._arrived, 0), minlength=size).astype(np.int32)
        self._arrived = np.where(self.on_floor.ravel(), arrived, -1).astype(np.int32)
        self._level = np.zeros(size, dtype=np.int32)
        step = self.grid.step_m
        self.grid = Grid(
            x0_m=self.grid.x0_m + step / 2,
            y0_m=self.grid.y0_m + step / 2,
            step_m=2 * step,
            nx=across,
            ny=(ny + 1) // 2,
        )
        self.options = replace(self.options, cell_m=2 * self.options.cell_m)
        return ordered[rows], moved

    def arrived(self) -> Ints:
        """How many points lie in each cell, thinned out or not, shape (ny, nx)."""
        return np.maximum(self._arrived, 0).reshape(self.on_floor.shape)

    def ordered(self) -> tuple[Singles, Ints]:
        """Heights by cell, and where each cell begins, shape (cells + 1,). The points are given up."""
        counts = self._counts()
        starts = np.zeros(counts.size + 1, dtype=np.int32)
        np.cumsum(counts, out=starts[1:])
        place, ordered = starts[:-1].copy(), np.empty(int(starts[-1]), dtype=np.float32)
        while self._blocks:
            block = self._blocks.pop(0)
            scatter(block.records, *block.by_group(), place, ordered.view(np.int32))
        return ordered, starts
