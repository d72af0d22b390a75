"""The floor as nodes: heights, the area and the wall that each stands for, its bay and its grinder."""

from dataclasses import dataclass

import numpy as np
import shapely
from scipy import ndimage

from slab_core.correction.bays import Bays, screed_bays
from slab_core.correction.keep_outs import Zone, kept_off
from slab_core.numerics.grid import Floats, Grid, Ints, Mask
from slab_core.rooms.model import Floor
from slab_core.rooms.thresholds import threshold_lines
from slab_core.surface.model import Surface

HAND_BAND_M = 0.1016
"""The hand tool takes the last 4 in at a wall (common practice 4-8 in, no single source)."""

KEEP_NEAR_THRESHOLD_M = 0.15
"""So close to a threshold the slab is always brought to the plane, never left as it is."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Nodes:
    """The n nodes inside a floor, in row order of the grid.

    `u`, `v` are positions scaled to about ±1, u = (x - x_mid) / reach; `z_mm` heights; `area_m2` sums to
    the floor's area; `wall_m` sums to the length of its boundary; `hand` is the share of a
    node's area that lies in the band along walls; `held` marks nodes at thresholds. In keep-out zones nodes
    are `unground`, and those of them that may not be filled either `unfilled`.
    """

    grid: Grid
    inside: Mask
    index: Ints
    x: Floats
    y: Floats
    u: Floats
    v: Floats
    z_mm: Floats
    area_m2: Floats
    wall_m: Floats
    hand: Floats
    held: Mask
    unground: Mask
    unfilled: Mask
    bays: Bays
    x_mid: float
    y_mid: float
    reach: float

    def scaled(self, *, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Positions as (u, v)."""
        return (x - self.x_mid) / self.reach, (y - self.y_mid) / self.reach

    def to_plane(self, abc_mm: Floats) -> tuple[float, float, float]:
        """(height at the origin in m, slope in x, slope in y) of a·1 + b·u + c·v in mm."""
        a, b, c = (float(value) * 1e-3 for value in abc_mm)
        slope_x, slope_y = b / self.reach, c / self.reach
        return a - slope_x * self.x_mid - slope_y * self.y_mid, slope_x, slope_y

    def from_plane(self, plane: tuple[float, float, float]) -> Floats:
        """The other way round: (a, b, c) in mm."""
        height, slope_x, slope_y = plane
        middle = height + slope_x * self.x_mid + slope_y * self.y_mid
        return np.array([middle, slope_x * self.reach, slope_y * self.reach]) * 1e3


def floor_nodes(*, floor: Floor, surface: Surface, zones: tuple[Zone, ...] = ()) -> Nodes:
    """Nodes of the surface with everything a plan needs to weigh them; `zones` are the floor's keep-outs."""
    grid, inside = surface.grid, surface.inside
    rows, columns = np.nonzero(inside)
    x, y = grid.xs()[columns], grid.ys()[rows]
    shape = shapely.Polygon(floor.shell, floor.gaps)
    shapely.prepare(shape)
    x_mid, y_mid = float(x.min() + x.max()) / 2, float(y.min() + y.max()) / 2
    reach = max(float(np.ptp(x)), float(np.ptp(y)), grid.step_m) / 2
    unground, unfilled = kept_off(zones, count=len(x))
    rim_m = _distance_to_wall(shape=shape, grid=grid, inside=inside, x=x, y=y)
    return Nodes(
        grid=grid,
        inside=inside,
        index=np.flatnonzero(inside).astype(np.int32),
        x=x,
        y=y,
        u=(x - x_mid) / reach,
        v=(y - y_mid) / reach,
        z_mm=surface.height[inside].astype(np.float64) * 1e-2,
        area_m2=node_areas(shape=shape, grid=grid, inside=inside)[inside],
        wall_m=_wall_share(shape=shape, rim_m=rim_m, step_m=grid.step_m),
        hand=np.clip((HAND_BAND_M - rim_m) / grid.step_m + 0.5, 0.0, 1.0),
        held=_near_thresholds(floor=floor, x=x, y=y),
        unground=unground,
        unfilled=unfilled,
        bays=screed_bays(floor=floor, x=x, y=y, step_m=grid.step_m),
        x_mid=x_mid,
        y_mid=y_mid,
        reach=reach,
    )


def node_areas(*, shape: shapely.Polygon, grid: Grid, inside: Mask) -> Floats:
    """Area of every node's cell that lies in the shape, (ny, nx) in m²; the sum is the shape's area.

    On a rectangle with nodes on its sides these are the trapezoid rule's weights. Slivers whose own node
    lies outside go to the nearest node inside, so that no area is lost.
    """
    whole = ndimage.binary_erosion(inside, structure=np.ones((3, 3), dtype=bool))
    areas = np.where(whole, grid.cell_area_m2(), 0.0)
    touched = ndimage.binary_dilation(inside, structure=np.ones((3, 3), dtype=bool))
    rows, columns = np.nonzero(touched & ~whole)
    x, y, half = grid.xs()[columns], grid.ys()[rows], grid.step_m / 2
    cells = shapely.box(x - half, y - half, x + half, y + half)
    areas[rows, columns] = shapely.area(shapely.intersection(shape, cells))
    outside = (areas > 0.0) & ~inside
    if outside.any():
        nearest = ndimage.distance_transform_edt(~inside, return_distances=False, return_indices=True)
        np.add.at(areas, (nearest[0][outside], nearest[1][outside]), areas[outside])
        areas[outside] = 0.0
    return np.asarray(areas, dtype=np.float64)


def _distance_to_wall(*, shape: shapely.Polygon, grid: Grid, inside: Mask, x: Floats, y: Floats) -> Floats:
    """Exact where it matters (a hand's breadth), a lower estimate from the grid elsewhere."""
    padded = np.pad(inside, 1)
    steps = ndimage.distance_transform_edt(padded)[1:-1, 1:-1][inside]
    rough = np.asarray(np.maximum(steps - 1.0, 0.0) * grid.step_m, dtype=np.float64)
    near = rough <= max(HAND_BAND_M, 2 * grid.step_m)
    rough[near] = shapely.distance(shape.boundary, shapely.points(x[near], y[near]))
    return rough


def _wall_share(*, shape: shapely.Polygon, rim_m: Floats, step_m: float) -> Floats:
    at_wall = rim_m < 0.999 * step_m  # one row of nodes along every wall
    share = at_wall / max(1, int(at_wall.sum())) * shape.length
    return np.asarray(share, dtype=np.float64)


def _near_thresholds(*, floor: Floor, x: Floats, y: Floats) -> Mask:
    held = np.zeros(len(x), dtype=np.bool_)
    points = shapely.points(x, y)
    for room in floor.rooms:
        for held_to in threshold_lines(room):
            line = shapely.LineString(held_to.line)
            held |= shapely.distance(points, line) <= KEEP_NEAR_THRESHOLD_M
    return held
