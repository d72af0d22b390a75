"""Scans of an invented room as files, written in pieces as a scanner's own software does."""

import struct
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from slab_core.numerics.grid import Floats
from tests.slabs import Slab, make_slab

WIDTH_M, DEPTH_M = 5.0, 4.0
TABLE = (1.5, 1.2, 3.1, 2.0)
"""x0, y0, x1, y1 of a table's top, 0.74 m high, on four legs of 60 mm."""

LEGS = tuple((x, y) for x in (1.55, 2.99) for y in (1.25, 1.89))
LEG_M, TOP_M = 0.06, 0.74


@dataclass(frozen=True)
class ScannedRoom:
    """A room with a table, as a scanner in its middle sees it, in the room's own coordinates."""

    slab: Slab
    points: Floats

    @property
    def outline(self) -> list[list[float]]:
        """The room as a client posts it, in metres."""
        return [[0.0, 0.0], [WIDTH_M, 0.0], [WIDTH_M, DEPTH_M], [0.0, DEPTH_M]]


def scanned_room(*, points: int = 1_000_000, noise_m: float = 0.0015, seed: int = 11) -> ScannedRoom:
    """Floor, walls, the table's top and legs; the top hides three quarters of the floor below it."""
    rng = np.random.default_rng(seed)
    slab = make_slab(rng=rng, width_m=WIDTH_M, depth_m=DEPTH_M)
    on_floor = int(0.8 * points)
    x, y = rng.uniform(0, WIDTH_M, on_floor), rng.uniform(0, DEPTH_M, on_floor)
    z = slab.height(x, y) + rng.normal(0, noise_m, on_floor)
    hidden = _within(x, y, TABLE) & (rng.random(on_floor) < 0.75)
    z[hidden] = TOP_M + rng.normal(0, noise_m, np.count_nonzero(hidden))
    for leg_x, leg_y in LEGS:
        leg = _within(x, y, (leg_x, leg_y, leg_x + LEG_M, leg_y + LEG_M))
        z[leg] = rng.uniform(0.1, TOP_M, np.count_nonzero(leg))
    floor = np.column_stack([x, y, z])
    walls = _walls(rng, points - on_floor, noise_m)
    return ScannedRoom(slab=slab, points=rng.permutation(np.concatenate([floor, walls])))


def _walls(rng: np.random.Generator, count: int, noise_m: float) -> Floats:
    """Two of the walls, a little behind the room's outline, up to 2.4 m."""
    along, up = rng.uniform(0, 1, count), rng.uniform(0, 2.4, count)
    behind = 0.01 + np.abs(rng.normal(0, noise_m, count))
    first = rng.random(count) < 0.5
    x = np.where(first, along * WIDTH_M, -behind)
    y = np.where(first, -behind, along * DEPTH_M)
    return np.column_stack([x, y, up])


def _within(x: Floats, y: Floats, frame: tuple[float, float, float, float]) -> Floats:
    x0, y0, x1, y1 = frame
    return (x >= x0) & (x <= x1) & (y >= y0) & (y <= y1)


def las_pieces(points: Floats, *, claimed: int | None = None, rows: int = 50_000) -> Iterator[bytes]:
    """A LAS 1.2 file (point format 0) of the points, piece by piece; `claimed` points are stated.

    Fields and their places: ASPRS, "LAS Specification 1.2", tables of the public header and of format 0.
    """
    low, high = points.min(axis=0), points.max(axis=0)
    scale, offset = 1e-4, np.floor(low)
    head = bytearray(227)
    head[0:4], head[24:26] = b"LASF", bytes((1, 2))
    struct.pack_into("<HIIBHI", head, 94, 227, 227, 0, 0, 20, len(points) if claimed is None else claimed)
    bounds = [value for pair in zip(high, low, strict=True) for value in pair]
    struct.pack_into("<12d", head, 131, *[scale] * 3, *offset, *bounds)
    yield bytes(head)
    row = np.dtype({"names": ["X", "Y", "Z"], "formats": ["<i4"] * 3, "offsets": [0, 4, 8], "itemsize": 20})
    for first in range(0, len(points), rows):
        part = points[first : first + rows]
        records = np.zeros(len(part), dtype=row)
        for axis, name in enumerate("XYZ"):
            records[name] = np.rint((part[:, axis] - offset[axis]) / scale)
        yield records.tobytes()
