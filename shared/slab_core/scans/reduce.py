"""A scan of any size to one robust height for each cell of a floor."""

import math
from collections.abc import Callable, Iterable
from dataclasses import replace
from itertools import chain

import numpy as np

from slab_core.errors import Problem, refuse
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Ints, Mask
from slab_core.rooms.geometry import floor_polygon
from slab_core.rooms.model import Floor
from slab_core.scans.check import check_extent, check_overlap
from slab_core.scans.clutter import Cleared, clear
from slab_core.scans.gather import Gatherer, cells_over
from slab_core.scans.gather_kernels import Singles
from slab_core.scans.level import floor_plane
from slab_core.scans.model import CellHeights, Placement, ScanOptions
from slab_core.scans.modes import lowest_modes
from slab_core.scans.recover import recover

LEAST_COVERED = 0.02
COVERED_IN_PART = 0.7
LARGEST_CELL_M = 0.1
COARSE_STEP_M = 0.002
FIRST_POINTS = 20_000
"""So many show about how high a scan lies and which steps its heights come in."""
HEIGHT_DIGITS = 6

Cells = tuple[Floats, Floats, Ints]
"""Mean height, standard deviation of one point, and points, of every cell of the floor."""


def reduce_scan(
    *,
    floor: Floor,
    chunks: Iterable[Floats],
    placement: Placement,
    options: ScanOptions,
    budget: Budget,
    progress: Callable[[int], None] = lambda points: None,
) -> CellHeights:
    """Robust heights of a floor from the points of a scan, shape (n, 3) a chunk, in metres.

    Per cell the mean about the lowest dense height; cells that show something on the floor are cleared
    away. Where the points are too few for such cells, they are doubled, up to 0.1 m. `progress` is told the
    number of points after each chunk. Memory is bounded by `options.budget_points`, whatever the scan's
    size.

    Raises
    ------
    InputRefused
        when a point is not a number, the scan is empty, not in metres, not on the floor or not level, or
        has no floor in it.
    Stopped
        when the budget says so.
    """
    (gathered,) = gather(
        floors=(floor,),
        chunks=chunks,
        placement=placement,
        options=options,
        budget=budget,
        progress=progress,
    )
    return finish(gathered=gathered, floor=floor)


def gather(
    *,
    floors: tuple[Floor, ...],
    chunks: Iterable[Floats],
    placement: Placement,
    options: ScanOptions,
    budget: Budget,
    progress: Callable[[int], None] = lambda points: None,
) -> tuple[Gatherer, ...]:
    """The points of a scan in the cells of each floor, read once; the floors share the memory.

    Raises InputRefused for a floor with too many cells or hardly one, and for a point that is not a number.
    """
    chunks = iter(chunks)
    first = next(chunks, np.empty((0, 3)))
    some = first[:FIRST_POINTS, 2]
    some = some[np.isfinite(some)]
    placement = _near(placement, some)
    options = replace(options, budget_points=max(1, options.budget_points // len(floors)))
    places = (cells_over(floor=floor, cell_m=options.cell_m) for floor in floors)
    step_m = _height_step(some)
    gathered = tuple(
        Gatherer(grid=grid, on_floor=on_floor, placement=placement, options=options, step_m=step_m)
        for grid, on_floor in places
    )
    for chunk in chain((first,), chunks):
        budget.left_s()
        for gatherer in gathered:
            gatherer.add(chunk)
        progress(gathered[0].read)
    return gathered


def _near(placement: Placement, heights_m: Floats) -> Placement:
    """The same placement with its origin at the points' height, as heights are kept in single precision."""
    if not len(heights_m):
        return placement
    (x, y, z), (to_x, to_y, to_z) = placement.origin_m, placement.shift_m
    up = float(np.round(np.median(heights_m) - z))
    return replace(placement, origin_m=(x, y, z + up), shift_m=(to_x, to_y, to_z + up))


def _height_step(heights_m: Floats) -> float:
    """The step that heights come in, 0 where it is below a scanner's noise."""
    levels = np.unique(np.round(heights_m, 6))
    if not 1 < len(levels) < len(heights_m) / 10:
        return 0.0  # few heights come twice, so there are no steps
    step = float(np.diff(levels).min())
    return step if step > COARSE_STEP_M else 0.0


def finish(*, gathered: Gatherer, floor: Floor) -> CellHeights:
    """Heights from what was gathered, which is given up."""
    x0, y0, x1, y1 = floor_polygon(floor).bounds
    wide = max(x1 - x0, y1 - y0)
    check_extent(extent_m=gathered.extent, floor_width_m=wide, read=gathered.read)
    inside = gathered.read - gathered.outside
    check_overlap(inside=inside, read=gathered.read, extent_m=gathered.extent, floor_width_m=wide)
    ordered, starts = gathered.ordered()
    cells = _cells(gathered, ordered, starts)
    while _is_sparse(cells, gathered):
        ordered, starts = gathered.merge(ordered, starts)
        cells = _cells(gathered, ordered, starts)
    _check_cover(cells, gathered)
    plane = _plane(gathered, cells[0])
    cleared = _clear(gathered, cells, plane)
    again = gathered.on_floor & ~cleared.floor
    seen = cells[2] > 0
    back = _second_look(gathered, cells, again, plane + cleared.level_m, ordered, starts)
    shown = cleared.floor | back
    kept = np.diff(starts).reshape(shown.shape)[shown]
    return _result(gathered, cells, kept, shown, seen & again & ~back, cleared.problems)


def _cells(gathered: Gatherer, ordered: Singles, starts: Ints) -> Cells:
    shape = gathered.on_floor.shape
    mean, sd, used = lowest_modes(
        ordered=ordered,
        starts=starts,
        least_points=gathered.options.least_points,
        step_m=gathered.step_m,
    )
    return mean.reshape(shape), sd.reshape(shape), used.reshape(shape)


def _is_sparse(cells: Cells, gathered: Gatherer) -> bool:
    """Whether many cells hold too few points, or too widely spread ones, for a height, and may be larger."""
    hold = gathered.arrived() > 0
    dense = np.count_nonzero(cells[2][hold])
    may_grow = 2 * gathered.options.cell_m <= LARGEST_CELL_M
    return bool(may_grow and dense < COVERED_IN_PART * np.count_nonzero(hold))


def _check_cover(cells: Cells, gathered: Gatherer) -> None:
    with_height, whole = np.count_nonzero(cells[2]), np.count_nonzero(gathered.on_floor)
    if with_height < max(3, LEAST_COVERED * whole):
        points = gathered.read - gathered.outside
        detail = f"Of {whole:,} cells only {with_height:,} have a dense height, from {points:,} points."
        raise refuse(
            code="scan-without-floor", detail=f"{detail} Check that the floor is in the scan, with z up."
        )


def _plane(gathered: Gatherer, mean: Floats) -> Floats:
    """Height of the floor's plane in every cell, shape (ny, nx)."""
    xs, ys = np.meshgrid(gathered.grid.xs(), gathered.grid.ys())
    known = ~np.isnan(mean)
    plane = floor_plane(x_m=xs[known], y_m=ys[known], heights_m=mean[known])
    return np.asarray(plane[0] + plane[1] * xs + plane[2] * ys)


def _clear(gathered: Gatherer, cells: Cells, plane: Floats) -> Cleared:
    mean, sd, used = cells
    random = sd / np.sqrt(np.maximum(used, 1))
    return clear(grid=gathered.grid, above_plane_m=mean - plane, random_m=random)


def _second_look(
    gathered: Gatherer, cells: Cells, again: Mask, level: Floats, ordered: Singles, starts: Ints
) -> Mask:
    """Look at cells that do not show the floor where it is expected; the cells in which it was found."""
    where = np.flatnonzero(again).astype(np.int32)
    least = gathered.options.least_points
    found = recover(ordered=ordered, starts=starts, cells=where, expected_m=level[again], least_points=least)
    cells[0][again], cells[1][again], cells[2][again] = found
    return np.asarray(again & (cells[2] > 0))


def _result(
    gathered: Gatherer, cells: Cells, kept: Ints, shown: Mask, cleared: Mask, problems: tuple[Problem, ...]
) -> CellHeights:
    mean, sd, used = (column[shown] for column in cells)
    j, i = np.nonzero(shown)
    random = np.hypot(sd / np.sqrt(used), gathered.step_m / math.sqrt(12.0))
    points = np.round(gathered.arrived()[shown] * (used / kept)).astype(np.int32)
    cell = gathered.options.cell_m
    return CellHeights(
        x_m=np.round(gathered.grid.xs()[i], 9),
        y_m=np.round(gathered.grid.ys()[j], 9),
        height_m=np.round(mean + gathered.placement.shift_m[2], HEIGHT_DIGITS),
        standard_error_m=np.hypot(random, gathered.options.bias_sd_m),
        random_error_m=random,
        points=points,
        cell_m=cell,
        position_sd_m=cell / math.sqrt(12.0),
        points_read=gathered.read,
        points_outside=gathered.outside,
        points_above=max(0, gathered.read - gathered.outside - int(points.sum())),
        cells_covered=len(mean),
        cells_cleared=int(np.count_nonzero(cleared)),
        cells_empty=int(np.count_nonzero(gathered.on_floor & ~shown & ~cleared)),
        problems=(*_findings(gathered, len(mean)), *problems),
    )


def _findings(gathered: Gatherer, shown: int) -> tuple[Problem, ...]:
    found = []
    if gathered.outside:
        share = gathered.outside / gathered.read
        detail = (
            f"{gathered.outside:,} of {gathered.read:,} points ({share:.0%}) lie outside the floor: left out."
        )
        found.append(Problem(code="scan-points-outside", detail=detail, severity="warning"))
    if gathered.step_m:
        step = gathered.step_m * 1000
        detail = (
            f"The file's heights come in steps of {step:.3g} mm, so that none is surer than "
            f"{step / math.sqrt(12.0):.2g} mm. Export the scan with finer coordinates."
        )
        found.append(Problem(code="scan-heights-coarse", detail=detail))
    covered = shown / np.count_nonzero(gathered.on_floor)
    if covered < COVERED_IN_PART:
        detail = f"The scan shows {covered:.0%} of the floor. Scan the rest, or take readings there."
        found.append(Problem(code="scan-covers-part", detail=detail))
    return tuple(found)
