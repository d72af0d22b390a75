"""What was done to a slab between its readings: taken off them before the fit and put back behind it.

A slab is smooth between its joints; what was ground off and poured onto it ends in lips and keys. Less that,
readings are smooth again, and work that was done exactly comes out exactly.
"""

from dataclasses import replace

import numpy as np

from slab_core.numerics.grid import HEIGHT_STEP_M, Floats, to_steps
from slab_core.surface.model import Change, Surface
from slab_core.surface.readings_plane import readings_plane
from slab_core.surveys.model import Observations


def changed_at(change: Change, *, x_m: Floats, y_m: Floats) -> Floats:
    """How much higher the slab is than at first, in metres, at places of any shapes that broadcast.

    A place belongs to the part of its nearest node and lies between the nodes of that part around it, so that
    nothing is smoothed across a lip.
    """
    grid = change.grid
    i, i0, across = _between(x_m, first=grid.x0_m, step=grid.step_m, count=grid.nx)
    j, j0, up = _between(y_m, first=grid.y0_m, step=grid.step_m, count=grid.ny)
    own = change.part[j, i]
    total, shares = np.zeros(own.shape), np.zeros(own.shape)
    for dj, row in ((0, 1.0 - up), (1, up)):
        for di, column in ((0, 1.0 - across), (1, across)):
            share = row * column * (change.part[j0 + dj, i0 + di] == own)
            total += share * change.height[j0 + dj, i0 + di]
            shares += share
    return np.asarray(total / shares * HEIGHT_STEP_M)


def as_at_first(seen: Observations, *, change: Change) -> Observations:
    """The readings as they would be of the slab before the change."""
    shift = (seen.weight * changed_at(change, x_m=seen.x_m, y_m=seen.y_m)).sum(axis=1)
    return replace(seen, value_m=np.round(seen.value_m - shift, 9))


def with_change(surface: Surface, *, change: Change, seen: Observations) -> Surface:
    """The slab as it is now, from the one before the change; `seen` are the readings as they were read."""
    x, y = surface.grid.xs()[None, :], surface.grid.ys()[:, None]
    return replace(
        surface,
        height=surface.height + to_steps(changed_at(change, x_m=x, y_m=y)),
        spline=replace(surface.spline, change=change),
        readings_plane=readings_plane(observations=seen),
    )


def _between(at_m: Floats, *, first: float, step: float, count: int) -> tuple[Floats, Floats, Floats]:
    """The nearest node, the one before the place, and how far it lies on from that to the next (0 to 1)."""
    place = np.clip((at_m - first) / step, 0.0, count - 1.0)
    before = np.minimum(np.floor(place), count - 2.0)
    return np.rint(place).astype(np.int64), before.astype(np.int64), place - before
