"""Sixteen directions in which grid nodes line up, and which steps along them a straightedge may cross."""

import numpy as np
import shapely
from numpy.typing import NDArray

from slab_core.numerics.grid import Floats, Grid, Mask
from slab_core.numerics.kernel import kernel
from slab_core.rooms.edges import Edge, edges, length_m, taken
from slab_core.rooms.geometry import floor_polygon
from slab_core.rooms.model import Floor
from slab_core.rooms.openings import ON_OUTLINE_M, THICKEST_WALL_M

DIRECTIONS: tuple[tuple[int, int], ...] = (
    (1, 0),
    (3, 1),
    (2, 1),
    (3, 2),
    (1, 1),
    (2, 3),
    (1, 2),
    (1, 3),
    (0, 1),
    (-1, 3),
    (-1, 2),
    (-2, 3),
    (-1, 1),
    (-3, 2),
    (-2, 1),
    (-3, 1),
)
"""Steps (dx, dy) in nodes, by rising angle; neighbours are at most 18.4° apart."""

TOUCH_M = 1e-6
"""An edge this close to a wall touches it and does not cross."""


CROSSED = 3
"""Both marks of a step at once: see _mark_walls."""


def direction_array() -> NDArray[np.int64]:
    """DIRECTIONS as an array, shape (16, 2)."""
    return np.array(DIRECTIONS, dtype=np.int64)


def free_steps(*, floor: Floor, grid: Grid, inside: Mask) -> Mask:
    """Whether a straightedge may go from a node one step on, shape (16, ny, nx).

    It may not leave the floor, nor pass through a wall or an obstacle, however thin.
    """
    free = np.zeros((len(DIRECTIONS), grid.ny, grid.nx), dtype=np.bool_)
    _between_inside_nodes(np.ascontiguousarray(inside), direction_array(), free)
    near = TOUCH_M / grid.step_m
    walls = _in_steps([edge for ring in (floor.shell, *floor.gaps) for edge in edges(ring)], grid=grid)
    hits = np.zeros(free.shape, dtype=np.uint8)
    _mark_walls(walls, direction_array(), near, False, free, hits)
    _mark_walls(_in_steps(_partitions(floor), grid=grid), direction_array(), near, True, free, hits)
    free &= hits < CROSSED
    on_wall = np.zeros(inside.shape, dtype=np.bool_)
    _mark_nodes(walls, near, on_wall)
    _bar_from_wall_to_wall(floor=floor, grid=grid, on_wall=on_wall, free=free)
    return free


def _in_steps(barriers: list[Edge], *, grid: Grid) -> Floats:
    """Starts and ends of edges in grid steps, shape (n, 4)."""
    ends = np.array(barriers, dtype=np.float64).reshape(-1, 4)
    return np.asarray((ends - (grid.x0_m, grid.y0_m) * 2) / grid.step_m)


def _bar_from_wall_to_wall(*, floor: Floor, grid: Grid, on_wall: Mask, free: Mask) -> None:
    """A step from one face of a wall to the other touches both and crosses neither; off the floor, it lies in
    the wall or across a corner."""
    shape = floor_polygon(floor).buffer(TOUCH_M, join_style="mitre")
    shapely.prepare(shape)
    xs, ys = grid.xs(), grid.ys()
    for d, (dx, dy) in enumerate(DIRECTIONS):
        j, i = np.nonzero(free[d] & on_wall)
        both = on_wall[j + dy, i + dx]
        j, i = j[both], i[both]
        on_floor = shapely.contains_xy(shape, (xs[i] + xs[i + dx]) / 2, (ys[j] + ys[j + dy]) / 2)
        free[d, j[~on_floor], i[~on_floor]] = False


def _partitions(floor: Floor) -> list[Edge]:
    """Edges of the rooms' outlines that lie amid the joined floor and are no doorway."""
    if len(floor.rooms) == 1:
        return []
    rings = [edge for ring in (floor.shell, *floor.gaps) for edge in edges(ring)]
    doorways = [(o.start, o.end) for room in floor.rooms for o in room.openings if o.to_room is not None]
    outlines = [edge for room in floor.rooms for edge in edges(room.outline)]
    closed = _without(outlines, by=doorways, within_m=THICKEST_WALL_M + ON_OUTLINE_M)
    return _without(closed, by=rings, within_m=TOUCH_M)


def _without(pieces: list[Edge], *, by: list[Edge], within_m: float) -> list[Edge]:
    """The stretches of the pieces along which nothing of `by` lies."""
    left = []
    for piece in pieces:
        spans = taken(piece, by=by, within_m=within_m)
        marks = [0.0, *(at for span in spans for at in span), length_m(piece)]
        free = zip(marks[::2], marks[1::2], strict=True)
        left += [(_along(piece, low), _along(piece, high)) for low, high in free if high - low > TOUCH_M]
    return left


def _along(edge: Edge, metres: float) -> tuple[float, float]:
    (x0, y0), (x1, y1) = edge
    share = metres / length_m(edge)
    return x0 + share * (x1 - x0), y0 + share * (y1 - y0)


@kernel
def _between_inside_nodes(inside: Mask, directions: NDArray[np.int64], free: Mask) -> None:
    ny, nx = inside.shape
    for d in range(len(directions)):
        dx, dy = directions[d]
        for j in range(ny):
            to_j = j + dy
            if to_j >= ny:
                continue
            for i in range(max(0, -dx), min(nx, nx - dx)):
                free[d, j, i] = inside[j, i] and inside[to_j, i + dx]


@kernel
def _mark_nodes(walls: Floats, near: float, on_wall: Mask) -> None:
    """Mark the nodes that lie on a wall (start and end in grid steps, shape (n, 4))."""
    ny, nx = on_wall.shape
    for w in range(len(walls)):
        ax, ay, bx, by = walls[w]
        size = np.hypot(bx - ax, by - ay)
        if size == 0.0:
            continue
        ux, uy = (bx - ax) / size, (by - ay) / size
        for j in range(max(0, int(min(ay, by) - near)), min(ny - 1, int(max(ay, by) + near + 1.0)) + 1):
            for i in range(max(0, int(min(ax, bx) - near)), min(nx - 1, int(max(ax, bx) + near + 1.0)) + 1):
                along = ux * (i - ax) + uy * (j - ay)
                aside = ux * (j - ay) - uy * (i - ax)
                if abs(aside) <= near and -near <= along <= size + near:
                    on_wall[j, i] = True


@kernel
def _mark_walls(
    walls: Floats,
    directions: NDArray[np.int64],
    near: float,
    is_partition: bool,
    free: Mask,
    hits: NDArray[np.uint8],
) -> None:
    """Mark the steps that walls (start and end in grid steps, shape (n, 4)) cross.

    A step through a wall's very end counts as crossed when moved a little to the one side (1) or to the
    other (2). Both together, perhaps by two walls that meet there, is a crossing; one alone is a touch.
    A node on a partition belongs to neither side, so every step from or to it is marked.
    """
    ny, nx = free.shape[1:]
    for w in range(len(walls)):
        ax, ay, bx, by = walls[w]
        size = np.hypot(bx - ax, by - ay)
        if size == 0.0:
            continue
        ux, uy = (bx - ax) / size, (by - ay) / size
        for d in range(len(directions)):
            dx, dy = directions[d]
            low_i = max(0, int(np.floor(min(ax, bx) - near)) - max(dx, 0))
            high_i = min(nx - 1, int(np.ceil(max(ax, bx) + near)) - min(dx, 0))
            low_j = max(0, int(np.floor(min(ay, by) - near)) - dy)
            high_j = min(ny - 1, int(np.ceil(max(ay, by) + near)))
            for j in range(low_j, high_j + 1):
                for i in range(low_i, high_i + 1):
                    if not free[d, j, i]:
                        continue
                    start = ux * (j - ay) - uy * (i - ax)
                    end = start + ux * dy - uy * dx
                    if is_partition and (abs(start) <= near or abs(end) <= near):
                        at = 0 if abs(start) <= near else 1
                        along = ux * (i + at * dx - ax) + uy * (j + at * dy - ay)
                        if -near <= along <= size + near:
                            hits[d, j, i] |= CROSSED
                        continue
                    if not ((start > near and end < -near) or (start < -near and end > near)):
                        continue
                    from_a = (dx * (ay - j) - dy * (ax - i)) / np.hypot(dx, dy)
                    from_b = (dx * (by - j) - dy * (bx - i)) / np.hypot(dx, dy)
                    if (from_a >= -near) != (from_b >= -near):
                        hits[d, j, i] |= 1
                    if (from_a > near) != (from_b > near):
                        hits[d, j, i] |= 2
