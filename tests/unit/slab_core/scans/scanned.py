"""Invented scans of an invented slab: what a scanner sees of the floor and of what stands on it."""

import numpy as np

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats
from slab_core.rooms.model import Floor
from slab_core.scans.model import CellHeights, Placement, ScanOptions
from slab_core.scans.reduce import reduce_scan
from tests.slabs import Slab, make_slab

WIDTH_M, DEPTH_M = 3.0, 2.5
NOISE_M = 0.002


def a_slab(*, seed: int = 0) -> Slab:
    return make_slab(rng=np.random.default_rng(seed), width_m=WIDTH_M, depth_m=DEPTH_M)


def scan(
    *, slab: Slab, points: int = 1_000_000, clutter: float = 0.1, noise_m: float = NOISE_M, seed: int = 1
) -> Floats:
    """Points all over the floor, a share of them anywhere above it, shape (points, 3)."""
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(0, WIDTH_M, points), rng.uniform(0, DEPTH_M, points)
    z = slab.height(x, y) + rng.normal(0, noise_m, points)
    z += np.where(rng.random(points) < clutter, rng.uniform(0, 2, points), 0.0)
    return np.column_stack([x, y, z])


def within(x: Floats, y: Floats, frame: tuple[float, float, float, float], inset: float = 0.0) -> Floats:
    """Which places lie in a frame (x0, y0, x1, y1), at least `inset` inside."""
    x0, y0, x1, y1 = frame
    return (x > x0 + inset) & (x < x1 - inset) & (y > y0 + inset) & (y < y1 - inset)


def reduced(floor: Floor, points: Floats, *, chunk: int = 200_000, **settings: float) -> CellHeights:
    placement = settings.pop("placement", None) or Placement()
    chunks = [points[i : i + chunk] for i in range(0, len(points), chunk)]
    return reduce_scan(
        floor=floor,
        chunks=chunks,
        placement=placement,
        options=ScanOptions(**settings),
        budget=Budget(),
    )


def errors(slab: Slab, cells: CellHeights) -> Floats:
    """Height less the truth, in metres."""
    return cells.height_m - slab.height(cells.x_m, cells.y_m)


def rms(values: Floats) -> float:
    return float(np.sqrt(np.mean(values**2)))
