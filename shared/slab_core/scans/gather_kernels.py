"""Kernels that give every point its cell, keep points in pages by groups of cells, and thin them evenly.

A point is one whole number: its cell in the upper half, the bits of its height in the lower. Points are
written to pages of `PAGE`, each of which holds points of one group of neighbouring cells, so that sorting
them by cell later writes to few places at a time, which stay in the processor's own memory.
"""

import numpy as np
from numpy.typing import NDArray

from slab_core.numerics.grid import Floats, Ints
from slab_core.numerics.kernel import kernel, summing_kernel

Singles = NDArray[np.float32]
Records = NDArray[np.int64]
FARTHEST_M = 1e9
PAGE = 1024
TILE = 4096
"""So many points are given their cells before they are put away: both lists stay in the nearest memory."""


@summing_kernel
def _widen(points: Floats, frame: Floats, extent: Floats) -> None:
    """The least and greatest coordinates from the frame's origin. None may be infinite, nor `extent`."""
    ox, oy, oz = frame[0], frame[1], frame[2]
    low_x, low_y, low_z = extent[0], extent[1], extent[2]
    high_x, high_y, high_z = extent[3], extent[4], extent[5]
    for i in range(points.shape[0]):
        x, y, z = points[i, 0] - ox, points[i, 1] - oy, points[i, 2] - oz
        low_x = min(low_x, x)
        high_x = max(high_x, x)
        low_y = min(low_y, y)
        high_y = max(high_y, y)
        low_z = min(low_z, z)
        high_z = max(high_z, z)
    extent[0], extent[1], extent[2] = low_x, low_y, low_z
    extent[3], extent[4], extent[5] = high_x, high_y, high_z


@kernel
def _cells(points: Floats, frame: Floats, size: tuple[int, int], cell: Ints, height: Singles) -> bool:
    """Cell (-1: off the grid) and height of each point; whether all of them are on the grid."""
    ox, oy, oz = frame[0], frame[1], frame[2]
    cos, sin, sx, sy = frame[3], frame[4], frame[5], frame[6]
    wide, deep = float(size[0]), float(size[1])
    all_on = True
    for i in range(points.shape[0]):
        x = points[i, 0] - ox
        y = points[i, 1] - oy
        z = points[i, 2] - oz
        across = cos * x - sin * y + sx
        along = sin * x + cos * y + sy
        # A place that is not a number lies in no range, nor does a height that is not.
        here = (across >= 0.0) & (across < wide) & (along >= 0.0) & (along < deep) & (abs(z) < FARTHEST_M)
        all_on &= here
        # Held to the grid first, as whole numbers end before places off it do; without a branch.
        row = np.int32(max(0.0, min(along, deep)))
        column = np.int32(max(0.0, min(across, wide)))
        cell[i] = row * np.int32(size[0]) + column if here else np.int32(-1)
        height[i] = np.float32(z)
    return all_on


@kernel
def _first_unknown(points: Floats) -> int:
    for i in range(points.shape[0]):
        if not np.isfinite(points[i, 0] + points[i, 1] + points[i, 2]):
            return i
    return -1


@kernel
def _put_away(
    cell: Ints,
    bits: Ints,
    arrived: Ints,
    level: Ints,
    thinned: bool,
    shift: int,
    records: Records,
    at: Records,
    owner: Ints,
    page: int,
) -> tuple[int, int]:
    """Write points to their groups' pages; gives the next free page and how many are not on the floor."""
    outside = 0
    for i in range(cell.shape[0]):
        k = cell[i]
        nth = np.int32(-1)
        if k >= 0:
            nth = arrived[k]
        if nth < 0:
            outside += 1
            continue
        arrived[k] = nth + 1
        if thinned and nth & ((1 << level[k]) - 1):
            continue
        # As in `thin`: a kernel that both call would be handed the arrays at every point, 2.5 times the time.
        group = k >> shift
        to = at[group]
        if to % PAGE == 0:
            to = page * PAGE
            owner[page] = group
            page += 1
        records[to] = (np.int64(k) << 32) | np.int64(np.uint32(bits[i]))
        at[group] = to + 1
    return page, outside


@kernel
def assign(
    points: Floats,
    frame: Floats,
    size: tuple[int, int],
    arrived: Ints,
    level: Ints,
    thinned: bool,
    shift: int,
    extent: Floats,
    cell: Ints,
    height: Singles,
    bits: Ints,
    records: Records,
    at: Records,
    owner: Ints,
    page: int,
) -> tuple[int, int, int, int]:
    """Put the points that lie on the floor and are not thinned out into pages, as long as pages are free.

    `frame` is (ox, oy, oz, cos, sin, sx, sy) with lengths after the turn in cells from the grid's corner of
    `size` (across, along); `arrived` counts the points of each cell, below 0 where there is no floor. `cell`
    and `height` are room for `TILE` points, `bits` the same memory as `height`; a cell's group is its number
    less its last `shift` bits, and `at` the next place of each group, shape (groups,). `extent` is so far
    (low x, y, z, high x, y, z), as finite numbers. Gives how many points were taken, the next free page, how
    many are not on the floor, and the first row that holds no number (-1: none).
    """
    taken = 0
    outside = 0
    # A tile fills at most so many pages, and begins one for each group at most.
    most = TILE // PAGE + min(at.shape[0], TILE)
    while taken < points.shape[0] and page + most <= owner.shape[0]:
        tile = points[taken : taken + TILE]
        n = tile.shape[0]
        if not _cells(tile, frame, size, cell, height):
            bad = _first_unknown(tile)
            if bad >= 0:
                return taken, page, outside, taken + bad
        _widen(tile, frame, extent)
        page, off = _put_away(cell[:n], bits, arrived, level, thinned, shift, records, at, owner, page)
        outside += off
        taken += n
    return taken, page, outside, -1


@kernel
def count(records: Records, pages: Ints, held: Ints, counts: Ints) -> None:
    """Add the points of each cell to `counts`; `held` says how many points each of the `pages` holds."""
    for j in range(pages.shape[0]):
        for i in range(pages[j] * PAGE, pages[j] * PAGE + held[j]):
            counts[records[i] >> 32] += 1


@kernel
def scatter(records: Records, pages: Ints, held: Ints, place: Ints, bits: Ints) -> None:
    """Write the bits of heights to their cell's next place, which moves on."""
    for j in range(pages.shape[0]):
        for i in range(pages[j] * PAGE, pages[j] * PAGE + held[j]):
            k = records[i] >> 32
            to = place[k]
            bits[to] = np.int32(np.uint32(records[i] & 0xFFFFFFFF))
            place[k] = to + 1


@kernel
def thin(
    records: Records,
    pages: Ints,
    held: Ints,
    drop: Ints,
    seen: Ints,
    shift: int,
    into: Records,
    at: Records,
    owner: Ints,
) -> int:
    """Copy points, but of the cells to `drop` from every second one only; gives how many pages they fill.

    `seen` counts the cells' points on from block to block.
    """
    page = 0
    for j in range(pages.shape[0]):
        for i in range(pages[j] * PAGE, pages[j] * PAGE + held[j]):
            k = records[i] >> 32
            nth = seen[k]
            seen[k] = nth + 1
            if drop[k] and nth & 1:
                continue
            group = k >> shift
            to = at[group]
            if to % PAGE == 0:
                to = page * PAGE
                owner[page] = group
                page += 1
            into[to] = records[i]
            at[group] = to + 1
    return page
