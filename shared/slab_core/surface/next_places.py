"""Where the next height readings would say most about a sum over the floor, such as what fills it up.

The covariance of the sum with the height at every node is one solve on the factored posterior; each place
that is taken costs one more and lowers all variances by an update of rank one. For heights that are jointly
normal and a sum Σ gᵢ(zᵢ), weights E g′ᵢ(zᵢ) make these covariances exact, however the g bend. Source: C. M.
Stein, "Estimation of the mean of a multivariate normal distribution", 1981 (from memory).
"""

from dataclasses import dataclass

import numpy as np
import shapely
from scipy.linalg import cho_solve
from scipy.spatial import cKDTree

from slab_core.numerics.grid import ERROR_STEP_M, Floats, Mask, to_metres
from slab_core.rooms.geometry import floor_polygon
from slab_core.rooms.model import Floor, Point
from slab_core.surface.model import Spline, Surface
from slab_core.surface.posterior import Posterior, axes, grid_heights, on_grid, solved
from slab_core.surface.sample import rebuilt

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
    weights: Floats,
    count: int,
    reading_sd_m: float,
    allowed: Mask,
    apart_m: float,
    known_sd: float = 0.0,
) -> NextPlaces:
    """Up to `count` nodes where one more height most lowers the variance of the first sum, one after another.

    `weights`, shape (m, ny, nx), are the sums' changes per metre of height at the nodes of the surface; the
    first sum steers and all are reported, in the unit of (weight · metre). Only nodes in `allowed`, shape
    (ny, nx), are taken, no two nearer than `apart_m`; none once the first sum's standard deviation is
    `known_sd` or less. `reading_sd_m` is that of one more reading, its misplacing on the slope included.

    The surface's smoothing and noise count as known, so that a fit of all readings may differ a little.
    """
    if not surface.error.any():
        return NextPlaces(sd=(0.0,) * len(weights), places=())
    fields = _Fields(surface=surface, weights=weights)
    places: list[NextPlace] = []
    before, free = fields.sd(), allowed.copy()
    xs, ys = surface.grid.xs(), surface.grid.ys()
    while len(places) < count and free.any() and fields.sd()[0] > known_sd:
        gain = np.where(free, np.square(fields.shared[0]) / (fields.variance + reading_sd_m**2), -1.0)
        row, column = (int(k) for k in np.unravel_index(int(gain.argmax()), gain.shape))
        if gain[row, column] <= LEAST_SHARE * fields.sums[0]:
            break
        fields.read(row=row, column=column, noise=reading_sd_m**2)
        places.append(NextPlace(at=(float(xs[column]), float(ys[row])), sd=fields.sd()))
        free[row, column] = False
        free &= np.hypot(*np.meshgrid(xs - xs[column], ys - ys[row])) >= apart_m - 1e-9
    return NextPlaces(sd=before, places=tuple(places))


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


class _Fields:
    """What is still unknown: variances of the sums, of the nodes' heights, and covariances of the two."""

    def __init__(self, *, surface: Surface, weights: Floats) -> None:
        self._grid = surface.grid
        self._found = rebuilt(surface.spline)
        self._rows, self._columns = axes(self._found.design, surface.grid)
        self._beside = on_grid(self._found.design, surface.grid)
        self._known: list[Floats] = []
        # The stored errors spare the diagonal of the inverse; they are rounded to 0.001 mm.
        self.variance = np.square(to_metres(surface.error, step_m=ERROR_STEP_M))
        self.shared = np.stack([self._covariance(weight) for weight in weights])
        self.sums = np.einsum("kji,kji->k", weights, self.shared)

    def sd(self) -> tuple[float, ...]:
        return tuple(float(sd) for sd in np.sqrt(np.maximum(self.sums, 0.0)))

    def read(self, *, row: int, column: int, noise: float) -> None:
        """Take in a height reading at a node."""
        at = np.zeros(self.variance.shape)
        at[row, column] = 1.0
        field = self._covariance(at)
        for known in self._known:
            field -= known[row, column] * known
        own = float(field[row, column])
        scaled = field / np.sqrt(own + noise)
        self._known.append(scaled)
        with_sums = self.shared[:, row, column] / np.sqrt(own + noise)
        self.sums = self.sums - np.square(with_sums)
        self.shared = self.shared - with_sums[:, None, None] * scaled
        self.variance = np.maximum(self.variance - np.square(scaled), 0.0)

    def _covariance(self, weight: Floats) -> Floats:
        """Of Σ weight · height, by the readings that the surface was fitted to, with every node's height."""
        found: Posterior = self._found
        right = (self._rows.T @ (weight.T if found.design.swapped else weight) @ self._columns).ravel()
        coefficients = solved(found, right[:, None])[:, 0]
        if not len(found.schur):
            return grid_heights(design=found.design, coefficients=coefficients, grid=self._grid)
        beside = np.einsum("ji,jim->m", weight, self._beside) - found.shared.T @ right
        beside = cho_solve((found.schur, True), beside)
        coefficients = coefficients - found.shared @ beside
        field = grid_heights(design=found.design, coefficients=coefficients, grid=self._grid)
        return np.asarray(field + self._beside @ beside)
