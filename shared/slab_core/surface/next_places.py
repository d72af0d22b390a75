"""Where the next height readings would say most about a sum over the floor, such as what fills it up."""

from dataclasses import dataclass

import numpy as np
import shapely
from scipy.spatial import cKDTree

from slab_core.numerics.grid import ERROR_STEP_M, Floats, Mask
from slab_core.rooms.geometry import floor_polygon
from slab_core.rooms.model import Floor, Point
from slab_core.surface.model import Spline, Surface
from slab_core.surface.unknown import Sums, Unknown

LEAST_SHARE = 1e-12
"""A reading that takes less than this share off the variance says nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NextPlace:
    """A place to read; `sd` are the standard deviations of the sums after it and all places before it."""

    at: Point
    sd: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class NextPlaces:
    """Places in the order of their use; `sd` are the standard deviations of the sums before any of them."""

    sd: tuple[float, ...]
    places: tuple[NextPlace, ...]


def next_places(
    *,
    surface: Surface,
    sums: Sums,
    count: int,
    reading_sd_m: float,
    allowed: Mask,
    apart_m: float,
    known_sd: float = 0.0,
) -> NextPlaces:
    """Up to `count` nodes where one more height most lowers the variance of the first sum, one after another.

    The first of the `sums` steers and all are reported, in their own units. Only nodes in `allowed`, shape
    (ny, nx), are taken, no two nearer than `apart_m`; none once the first sum's standard deviation is
    `known_sd` or less. `reading_sd_m` is that of one more reading, its misplacing on the slope included.

    The surface's smoothing and noise count as known, so that a fit of all readings may differ a little. Each
    place is the best one after those before it; no better set of places is searched for.
    """
    if not surface.error.any():
        return NextPlaces(sd=(0.0,) * len(sums.weights), places=())
    unknown = Unknown(surface=surface, sums=sums)
    noise = max(reading_sd_m, ERROR_STEP_M) ** 2  # no error is stored finer
    places: list[NextPlace] = []
    sds, free = [unknown.sd()], allowed.copy()
    xs, ys = surface.grid.xs(), surface.grid.ys()
    while len(places) < count and free.any() and sds[-1][0] > known_sd:
        told = np.where(free, unknown.told(noise=noise), -1.0)
        row, column = (int(k) for k in np.unravel_index(int(told.argmax()), told.shape))
        if told[row, column] <= LEAST_SHARE * sds[0][0] ** 2:
            break
        unknown.read(row=row, column=column, noise=noise)
        sds.append(unknown.sd())
        places.append(NextPlace(at=(float(xs[column]), float(ys[row])), sd=sds[-1]))
        free &= np.hypot(*np.meshgrid(xs - xs[column], ys - ys[row])) >= max(apart_m - 1e-9, 1e-9)
    return NextPlaces(sd=sds[0], places=tuple(places))


def measurable(*, floor: Floor, surface: Surface, off_walls_m: float, apart_m: float) -> Mask:
    """Nodes where a rod can stand and say something new, shape (ny, nx).

    At least `off_walls_m` from walls, obstacles and joints, so that it is plain which side is meant, and at
    least `apart_m` from every height that the fit used.
    """
    grid, out = surface.grid, np.zeros(surface.inside.shape, dtype=np.bool_)
    open_floor = floor_polygon(floor).buffer(-off_walls_m, join_style="mitre")
    joints = [shapely.LineString((joint.start, joint.end)) for joint in surface.spline.joints]
    open_floor = open_floor.difference(shapely.union_all(joints).buffer(off_walls_m))
    shapely.prepare(open_floor)
    xs, ys = (axis[surface.inside] for axis in np.meshgrid(grid.xs(), grid.ys()))
    good = shapely.intersects_xy(open_floor, xs, ys)
    read = heights_read(surface.spline)
    if len(read):
        distance, _ = cKDTree(read).query(np.column_stack([xs, ys]))
        good &= distance >= apart_m - 1e-9
    out[surface.inside] = good
    return out


def heights_read(spline: Spline) -> Floats:
    """Places of the heights in the fit, shape (n, 2); what couples places, such as a gap, is none."""
    single = (spline.obs_weight[:, 1:] == 0.0).all(axis=1)
    return np.column_stack([spline.obs_x_m[single, 0], spline.obs_y_m[single, 0]])
