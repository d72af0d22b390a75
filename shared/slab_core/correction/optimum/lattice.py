"""The same floor on nodes twice as far apart, and what its optimum says about the finer one."""

from dataclasses import replace
from typing import Any

import numpy as np
from scipy import ndimage

from slab_core.correction.optimum.model import Demand, Lies
from slab_core.correction.optimum.rows import all_of
from slab_core.numerics.grid import Floats, Mask
from slab_core.numerics.kernel import kernel
from slab_core.tolerance.lattice import direction_array

SHIFTS = ((0, 0), (0, 1), (1, 0), (1, 1))
"""The finer lattice is four coarser ones, each a finer step aside."""


def coarser(demand: Demand) -> Demand:
    """Every second node of every second row; each stands for four."""
    steps = [demand.free[d] & _moved(demand.free[d], dx, dy) for d, (dx, dy) in enumerate(direction_array())]
    return replace(
        demand,
        step_m=2.0 * demand.step_m,
        heights_mm=_half(demand.heights_mm),
        inside=_half(demand.inside),
        free=np.array([_half(step) for step in steps]),
        fill_weight=4.0 * _half(demand.fill_weight),
        grind_weight=4.0 * _half(demand.grind_weight),
        keep_grinder_off=_half(demand.keep_grinder_off),
        keep_fill_off=_half(demand.keep_fill_off),
        lowest_mm=_half(demand.lowest_mm),
        highest_mm=_half(demand.highest_mm),
    )


def finer_lies(*, lies: Lies, demand: Demand) -> tuple[Lies, np.ndarray]:
    """Each lie of the coarser lattice at its four places of the finer one, and which lie each comes from.

    Those that leave the floor there are left out.
    """
    ahead = np.array([_ahead(demand.free[d], dx, dy) for d, (dx, dy) in enumerate(direction_array())])
    parts, sources = [], []
    for down, right in SHIFTS:
        moved = replace(lies, node=2 * lies.node + (down, right), a=2.0 * lies.a, b=2.0 * lies.b)
        fits = _fits(lies=moved, ahead=ahead)
        parts.append(moved.only(fits))
        sources.append(np.flatnonzero(fits))
    return all_of(parts), np.concatenate(sources)


def finer_changes(*, change_mm: Floats, shape: tuple[int, int]) -> Floats:
    """Changes of the coarser lattice (ny, nx) between its nodes too, bilinear."""
    rows, columns = np.mgrid[0 : shape[0], 0 : shape[1]] / 2.0
    found = ndimage.map_coordinates(change_mm, [rows, columns], order=1, mode="nearest")
    return np.asarray(found, dtype=np.float64)


def _half(values: Any) -> Any:
    return np.ascontiguousarray(values[::2, ::2])


def _moved(free: Mask, dx: int, dy: int) -> Mask:
    """`free` one step on along the direction; no step leaves the grid."""
    ny, nx = free.shape
    out = np.zeros_like(free)
    i0, i1 = max(0, -dx), min(nx, nx - dx)
    if dy < ny and i0 < i1:
        out[: ny - dy, i0:i1] = free[dy:, i0 + dx : i1 + dx]
    return out


def _fits(*, lies: Lies, ahead: np.ndarray) -> np.ndarray:
    ny, nx = ahead.shape[1:]
    steps = direction_array()[lies.direction]
    first, last = np.floor(lies.a + 1e-9).astype(np.int64), np.ceil(lies.b - 1e-9).astype(np.int64)
    j, i = lies.node[:, 0] + first * steps[:, 1], lies.node[:, 1] + first * steps[:, 0]
    within = (j >= 0) & (j < ny) & (i >= 0) & (i < nx)
    reach = ahead[lies.direction, np.where(within, j, 0), np.where(within, i, 0)]
    return np.asarray(within & (reach >= last - first))


@kernel
def _ahead(free: Any, dx: int, dy: int) -> Any:
    """How many free steps lie ahead of each node."""
    ny, nx = free.shape
    count = np.zeros((ny, nx), dtype=np.int32)
    for j in range(ny - 1, -1, -1):
        for i in range(nx - 1, -1, -1):
            if free[j, i]:
                count[j, i] = count[j + dy, i + dx] + 1
    return count
