"""What readings by level say of a scan's heights at their own places."""

from dataclasses import dataclass

import numpy as np

from slab_core.numerics.grid import Floats
from slab_core.scans.blocks import square_of
from slab_core.scans.model import CellHeights
from slab_core.surveys.model import Observations

REACH = 2
"""Squares to each side of a reading's own that show the floor around it."""

LEAST_AROUND = 6
FAR_SDS, FAR_M = 5.0, 0.008
"""A reading farther from the middle of all is a misread, for the surface to judge, and decides no height."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Compared:
    """Reading less scan at n places, and the readings' own standard deviation there, in metres."""

    difference_m: Floats
    reading_sd_m: Floats


def compare(*, seen: Observations, blocks: CellHeights) -> Compared:
    """Height readings against the plane through the scan's squares around each.

    A reading whose place is unsure is the less sure the steeper the floor. Readings where the scan shows
    too little are left out.
    """
    heights = (seen.weight[:, 1:] == 0.0).all(axis=1) & (seen.weight[:, 0] == 1.0)
    x, y = seen.x_m[heights, 0], seen.y_m[heights, 0]
    height, slope, enough = _plane_at(blocks, x, y)
    difference = seen.value_m[heights] - height
    sd = np.hypot(seen.sd_m[heights], slope * seen.position_sd_m[heights])
    return Compared(difference_m=difference[enough], reading_sd_m=sd[enough])


def without_misreads(found: Compared, *, bias_m: float) -> Compared:
    """The readings that agree with most of them about the scan's height."""
    if not len(found.difference_m):
        return found
    away = np.abs(found.difference_m - np.median(found.difference_m))
    near = away <= np.maximum(FAR_SDS * np.hypot(found.reading_sd_m, bias_m), FAR_M)
    return Compared(difference_m=found.difference_m[near], reading_sd_m=found.reading_sd_m[near])


def _plane_at(blocks: CellHeights, x: Floats, y: Floats) -> tuple[Floats, Floats, np.ndarray]:
    """Height and slope of the scan at places, shape (n,), and whether it shows enough there."""
    across, along = square_of(x_m=blocks.x_m, y_m=blocks.y_m, side_m=blocks.cell_m)
    low_x, low_y = int(across.min()) - REACH, int(along.min()) - REACH
    rows = np.full((int(along.max()) - low_y + REACH + 1, int(across.max()) - low_x + REACH + 1), -1)
    rows[along - low_y, across - low_x] = np.arange(len(across))
    i, j = square_of(x_m=x, y_m=y, side_m=blocks.cell_m)
    near = np.arange(-REACH, REACH + 1)
    at_y = (j - low_y)[:, None, None] + near[None, :, None]
    at_x = (i - low_x)[:, None, None] + near[None, None, :]
    there = (at_y >= 0) & (at_y < rows.shape[0]) & (at_x >= 0) & (at_x < rows.shape[1])
    row = np.where(there, rows[at_y.clip(0, rows.shape[0] - 1), at_x.clip(0, rows.shape[1] - 1)], -1)
    row = row.reshape(len(x), near.size**2)
    weight = (row >= 0).astype(np.float64)
    dx, dy = blocks.x_m[row] - x[:, None], blocks.y_m[row] - y[:, None]
    columns = np.stack([np.ones_like(dx), dx, dy], axis=2) * weight[:, :, None]
    normal = np.einsum("nka,nkb->nab", columns, columns)
    right = np.einsum("nka,nk->na", columns, blocks.height_m[row] * weight)
    plane = np.einsum("nab,nb->na", np.linalg.pinv(normal, hermitian=True), right)
    return plane[:, 0], np.hypot(plane[:, 1], plane[:, 2]), weight.sum(axis=1) >= LEAST_AROUND
