"""What a slab does between readings that no smooth surface through them can tell.

Bands along walls, strike-off ridges, trench patches and trowel marks are narrower than the distance between
readings. They are added to the standard errors as a relief of short waves whose variance grows with the
distance to the nearest readings, and more quickly beside walls. Its form is common practice, no single
source (hand-finished bands of 4-12 in along walls, ridges every 6-10 ft); its amounts were set so that
95 % bands cover 95 % on invented slabs, which are not those that check it.
"""

import numpy as np

from slab_core.numerics.grid import Floats, Grid
from slab_core.numerics.kernel import kernel
from slab_core.rooms.model import Floor, Ring
from slab_core.surface.model import Relief, Spline
from slab_core.surface.nearness import Measured, measured_by
from slab_core.surface.waves import Waves, waves_over
from slab_core.surveys.model import Observations

ALWAYS_M = 0.00038
"""Standard deviation of trowel marks and edges of patches, even among dense readings."""

OPEN_M, OPEN_REACH_M = 0.00155, 0.9
"""On the open floor, and the distance to readings at which most of it is reached."""

WALL_M, WALL_REACH_M, WALL_BAND_M = 0.00125, 0.2, 0.3
"""At a wall, the same distance there, and how wide the band is."""

NEIGHBOUR_SHARE = 0.115
"""What counts is the square of the distance to the nearest reading, and this share of that to the fourth."""

SHORTEST_WAVE_M = 0.35
"""Knots of the relief: it is correlated over about 1-2 ft, as the errors of means over areas show."""

SCALES = np.exp(np.linspace(-4.0, 2.0, 25))
SCALE_LOG_SD = 0.5
SEEN_SHARE = 0.3
"""Of the relief's variance, what shows in residuals: the rest is taken for noise or for the surface."""

MOST_SQUARED_SDS = 9.0


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
    open_ = OPEN_M**2 * (1.0 - np.exp(squared / -(OPEN_REACH_M**2)))
    wall = WALL_M**2 * beside_walls(places=places, walls=walls) * (1.0 - np.exp(nearest_m / -WALL_REACH_M))
    return np.asarray(ALWAYS_M**2 + open_ + wall)


def beside_walls(*, places: Floats, walls: tuple[Ring, ...]) -> Floats:
    """1 at a wall, 0 farther from it than WALL_BAND_M, shape (n,)."""
    sides = [(*start, *end) for ring in walls for start, end in zip(ring, (*ring[1:], ring[0]), strict=True)]
    share = np.empty(len(places))
    _beside_sides(places, np.array(sides), WALL_BAND_M, share)
    return share


@kernel
def _beside_sides(places: Floats, sides: Floats, band_m: float, share: Floats) -> None:
    for i in range(len(places)):
        x, y = places[i, 0], places[i, 1]
        least = band_m * band_m
        for x0, y0, x1, y1 in sides:
            if min(x0, x1) - x > band_m or x - max(x0, x1) > band_m:
                continue
            if min(y0, y1) - y > band_m or y - max(y0, y1) > band_m:
                continue
            along_x, along_y = x1 - x0, y1 - y0
            size = max(along_x * along_x + along_y * along_y, 1e-12)
            part = min(max(((x - x0) * along_x + (y - y0) * along_y) / size, 0.0), 1.0)
            away_x, away_y = x - x0 - part * along_x, y - y0 - part * along_y
            least = min(least, away_x * away_x + away_y * away_y)
        share[i] = 0.0
        if least < band_m * band_m:
            share[i] = 0.5 + 0.5 * np.cos(np.pi * np.sqrt(least) / band_m)


def relief_scale(*, residual_m: Floats, variance_m2: Floats, relief_m2: Floats) -> float:
    """How lively this slab's relief is beside the usual, from residuals of readings left out one by one.

    `variance_m2` is that of each residual without relief, by the stated accuracy alone.
    """
    misfit = np.empty(len(SCALES))
    _misfits(np.square(residual_m), variance_m2, relief_m2, SEEN_SHARE * SCALES, MOST_SQUARED_SDS, misfit)
    return float(SCALES[(misfit + np.square(np.log(SCALES) / SCALE_LOG_SD)).argmin()])


@kernel
def _misfits(
    squared: Floats, variance: Floats, relief: Floats, scales: Floats, most: float, out: Floats
) -> None:
    """Sums of the logarithms of the variances and of the squares in them; of several variances by their
    first, which is near 1 and cannot leave the range of numbers, one logarithm is taken."""
    unit = variance[0] + relief[0]
    for k in range(len(scales)):
        total, product = len(squared) * np.log(unit), 1.0
        for i in range(len(squared)):
            own = variance[i] + scales[k] * relief[i]
            total += min(squared[i] / own, most)
            product *= own / unit
            if i % 8 == 7:
                total += np.log(product)
                product = 1.0
        out[k] = total + np.log(product)


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
