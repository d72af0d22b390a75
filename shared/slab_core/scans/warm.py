"""Compile every kernel of scans once, so that the processes that read files find them ready."""

import numpy as np

from slab_core.numerics.budget import Budget
from slab_core.rooms.model import Floor
from slab_core.scans.model import Placement, ScanOptions
from slab_core.scans.reduce import reduce_scan


def warm() -> None:
    """Reduce a tiny scan with something on the floor, in so little memory that it is thinned."""
    shell = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
    floor = Floor(id="warm", rooms=(), shell=shell, gaps=(), area_m2=1.0, wall_m=4.0)
    xs, ys = np.meshgrid(np.linspace(0.01, 0.99, 80), np.linspace(0.01, 0.99, 80))
    points = np.column_stack([xs.ravel(), ys.ravel(), 0.5 * (xs.ravel() < 0.2)])
    options = ScanOptions(cell_m=0.1, budget_points=5_000)
    reduce_scan(floor=floor, chunks=[points], placement=Placement(), options=options, budget=Budget())
