"""Compile every kernel of the tolerance stage once, so that child processes find them ready."""

import numpy as np

from slab_core.numerics.grid import Grid
from slab_core.rooms.model import Floor, Room
from slab_core.tolerance.check import check_heights
from slab_core.tolerance.model import Rule
from slab_core.tolerance.straightedge import profile_departures


def warm() -> None:
    """Check a tiny floor by every kind of rule."""
    shell = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
    room = Room(id="warm", name="warm", outline=shell)
    floor = Floor(id="warm", rooms=(room,), shell=shell, gaps=(), area_m2=1.0, wall_m=4.0)
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.25, nx=5, ny=5)
    heights = np.zeros((5, 5))
    heights[2, 2] = 0.001
    rules = (
        Rule(length_m=0.6, gap_m=0.001),
        Rule(length_m=0.6, gap_m=0.001, kind="gap-only"),
        Rule(length_m=0.6, gap_m=0.001, kind="chord"),
        Rule(length_m=0.6, gap_m=0.001, kind="gap-only", share=0.9),
    )
    inside = np.ones((5, 5), dtype=np.bool_)
    check_heights(floor=floor, grid=grid, heights_m=heights, inside=inside, rules=rules)
    profile_departures(heights_m=heights[2], spacing_m=0.25, rule=rules[0])
