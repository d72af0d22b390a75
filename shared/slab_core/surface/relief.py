"""What a slab does between readings that no smooth surface through them can tell.

Bands along walls, strike-off ridges, trench patches and trowel marks are narrower than the distance between
readings. They are added to the standard errors as a relief of short waves whose variance grows with the
distance to the nearest readings, and more quickly beside walls. Its form is common practice, no single
source (hand-finished bands of 4-12 in along walls, ridges every 6-10 ft); its amounts were set so that
95 % bands cover 95 % on invented slabs, which are not those that check it.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree

from slab_core.numerics.grid import Floats, Grid
from slab_core.rooms.model import Floor, Ring
from slab_core.surface.model import Relief, Spline
from slab_core.surface.waves import Waves, waves_over
from slab_core.surveys.model import Observations

ALWAYS_M = 0.00038
"""Standard deviation of trowel marks and edges of patches, even among dense readings."""

OPEN_M, OPEN_REACH_M = 0.00155, 0.9
"""On the open floor, and the distance to readings at which most of it is reached."""

WALL_M, WALL_REACH_M, WALL_BAND_M = 0.00125, 0.2, 0.3
"""At a wall, the same distance there, and how wide the band is."""

FINE_STEP_M = 0.08
"""Distances to readings change so slowly that on a finer grid every second node tells them."""

NEIGHBOURS = 4
NEIGHBOUR_SHARE = 0.115
"""What counts is the square of the distance to the nearest reading, and this share of that to the fourth."""

SHORTEST_WAVE_M = 0.35
"""Knots of the relief: it is correlated over about 1-2 ft, as the errors of means over areas show."""

SCALES = np.exp(np.linspace(-4.0, 2.0, 25))
SCALE_LOG_SD = 0.5
SEEN_SHARE = 0.3
"""Of the relief's variance, what shows in residuals: the rest is taken for noise or for the surface."""

MOST_SQUARED_SDS = 9.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Measured:
    """Places where something was read."""

    tree: cKDTree

    def distances(self, places: Floats, *, without_own: bool = False) -> tuple[Floats, Floats]:
        """Metres to the nearest and to the fourth nearest reading, of places of shape (n, 2)."""
        skip = int(without_own)
        wanted = min(NEIGHBOURS, self.tree.n - skip)
        found = np.asarray(self.tree.query(places, k=[1 + skip, wanted + skip])[0])
        return found[:, 0], found[:, 1]

    def on_grid(self, grid: Grid) -> tuple[Floats, Floats]:
        """The same at a grid's nodes, shapes (ny, nx); on a fine grid between nodes twice as far apart."""
        if grid.step_m >= FINE_STEP_M:
            nearest, fourth = self.distances(grid.places())
            return nearest.reshape(grid.ny, grid.nx), fourth.reshape(grid.ny, grid.nx)
        half = replace(grid, step_m=2.0 * grid.step_m, nx=grid.nx // 2 + 1, ny=grid.ny // 2 + 1)
        rows, columns = _between(grid.ny), _between(grid.nx)
        nearest, fourth = (rows @ part @ columns.T for part in self.on_grid(half))
        return nearest, fourth


def _between(count: int) -> Floats:
    """Linear interpolation from every second of so many nodes, shape (count, count // 2 + 1)."""
    matrix = np.zeros((count, count // 2 + 1))
    at = np.arange(count)
    matrix[at, at // 2] = np.where(at % 2, 0.5, 1.0)
    matrix[at[1::2], at[1::2] // 2 + 1] = 0.5
    return matrix


def measured(*, x_m: Floats, y_m: Floats, weight: Floats) -> Measured:
    """The places that have weight in some observation; columns as in Observations."""
    used = weight != 0.0
    places = np.column_stack([x_m[used], y_m[used]])
    return Measured(tree=cKDTree(places, compact_nodes=False, balanced_tree=False))


def measured_by(spline: Spline) -> Measured:
    """The places whose readings a spline was fitted to."""
    return measured(x_m=spline.obs_x_m, y_m=spline.obs_y_m, weight=spline.obs_weight)


def observed_at(observations: Observations) -> Floats:
    """Where each observation looks: its heaviest place, shape (n, 2)."""
    heaviest = np.abs(observations.weight).argmax(axis=1)[:, None]
    x = np.take_along_axis(observations.x_m, heaviest, axis=1)
    y = np.take_along_axis(observations.y_m, heaviest, axis=1)
    return np.hstack([x, y])


def unseen_relief(*, observations: Observations, seen: Measured, walls: tuple[Ring, ...]) -> Floats:
    """Variance of the relief in each observation, as far as the others do not know it, m², shape (n,)."""
    total = np.zeros(len(observations.value_m))
    for place in range(observations.weight.shape[1]):
        own = np.flatnonzero(observations.weight[:, place])
        at = np.column_stack([observations.x_m[own, place], observations.y_m[own, place]])
        nearest, fourth = seen.distances(at, without_own=True)
        variance = relief_variance(places=at, nearest_m=nearest, fourth_m=fourth, walls=walls)
        total[own] += np.square(observations.weight[own, place]) * variance
    return total


def walls_of(floor: Floor) -> tuple[Ring, ...]:
    """The rings beside which a slab is finished by hand."""
    return (floor.shell, *floor.gaps)


def relief_variance(
    *, places: Floats, nearest_m: Floats, fourth_m: Floats, walls: tuple[Ring, ...]
) -> Floats:
    """Variance of the relief in m² at places of shape (n, 2), for the scale 1."""
    squared = np.square(nearest_m) + NEIGHBOUR_SHARE * np.square(fourth_m)
    open_ = OPEN_M**2 * -np.expm1(-squared / OPEN_REACH_M**2)
    wall = WALL_M**2 * beside_walls(places=places, walls=walls) * -np.expm1(-nearest_m / WALL_REACH_M)
    return np.asarray(ALWAYS_M**2 + open_ + wall)


def beside_walls(*, places: Floats, walls: tuple[Ring, ...]) -> Floats:
    """1 at a wall, 0 farther from it than WALL_BAND_M, shape (n,)."""
    nearest = np.full(len(places), WALL_BAND_M)
    for ring in walls:
        for start, end in zip(ring, (*ring[1:], ring[0]), strict=True):
            low = np.minimum(start, end) - WALL_BAND_M
            high = np.maximum(start, end) + WALL_BAND_M
            near = np.flatnonzero(((places > low) & (places < high)).all(axis=1))
            nearest[near] = np.minimum(nearest[near], _to_segment(places[near], start=start, end=end))
    return np.asarray(0.5 + 0.5 * np.cos(np.pi * nearest / WALL_BAND_M))


def _to_segment(places: Floats, *, start: tuple[float, float], end: tuple[float, float]) -> Floats:
    along = np.subtract(end, start)
    size = max(float(along @ along), 1e-12)
    share = np.clip((places - start) @ along / size, 0.0, 1.0)
    away = places - start - share[:, None] * along
    return np.asarray(np.hypot(away[:, 0], away[:, 1]))


def relief_scale(*, residual_m: Floats, variance_m2: Floats, relief_m2: Floats) -> float:
    """How lively this slab's relief is beside the usual, from residuals of readings left out one by one.

    `variance_m2` is that of each residual without relief, by the stated accuracy alone.
    """
    variance = variance_m2 + SEEN_SHARE * SCALES[:, None] * relief_m2
    misfit = np.log(variance) + np.minimum(np.square(residual_m) / variance, MOST_SQUARED_SDS)
    return float(SCALES[(misfit.sum(axis=1) + np.square(np.log(SCALES) / SCALE_LOG_SD)).argmin()])


def relief_on_grid(*, relief: Relief, nearest_m: Floats, fourth_m: Floats, grid: Grid) -> Floats:
    """Variance of the relief at the grid's nodes, m², and their distances, all of the shape (ny, nx)."""
    variance = relief_variance(
        places=grid.places(), nearest_m=nearest_m.ravel(), fourth_m=fourth_m.ravel(), walls=relief.walls
    )
    return np.asarray(relief.scale * variance.reshape(grid.ny, grid.nx))


def relief_field(*, spline: Spline, grid: Grid) -> Waves:
    """The relief of a spline's slab at the grid's nodes; nothing for a spline without relief."""
    sd = np.zeros((grid.ny, grid.nx))
    if spline.relief is not None:
        nearest, fourth = measured_by(spline).on_grid(grid)
        sd = np.sqrt(relief_on_grid(relief=spline.relief, nearest_m=nearest, fourth_m=fourth, grid=grid))
    return waves_over(grid, sd_m=sd, knot_m=SHORTEST_WAVE_M)
