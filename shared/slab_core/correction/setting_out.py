"""What a crew sets out on the slab: where bays end and where screed pins stand."""

from math import ceil

import numpy as np
import shapely

from slab_core.correction.bays import Bay
from slab_core.correction.model import Pin
from slab_core.correction.nodes import Nodes
from slab_core.correction.strips import BORDER_M, polygons
from slab_core.numerics.grid import Floats, Mask
from slab_core.rooms.distances import wall_distances
from slab_core.rooms.model import Floor, Point, Ring
from slab_core.tolerance.model import WallDistance


def walls_of(*, floor: Floor, at: Point) -> tuple[WallDistance, ...]:
    """Distances to two walls, as a crew tapes them."""
    found = wall_distances(floor=floor, at=at)
    return tuple(WallDistance(room=room, wall=wall, distance_m=d) for room, wall, d in found)


def bay_outline(*, nodes: Nodes, bay: Bay, filled: Mask) -> Ring:
    """The bay cut to what is filled of it, as far as that leaves it whole. `filled` marks its nodes."""
    half = nodes.grid.step_m / 2
    across, along = nodes.bays.turned(x=nodes.x[filled], y=nodes.y[filled])
    box = nodes.bays.turn.box(
        across=(float(across.min()) - half, float(across.max()) + half),
        along=(float(along.min()) - half, float(along.max()) + half),
    )
    parts = polygons(shapely.intersection(bay.shape, box))
    outline = parts[0] if len(parts) == 1 else bay.shape
    return tuple((float(px), float(py)) for px, py in outline.exterior.coords[:-1])


def bay_pins(
    *, floor: Floor, nodes: Nodes, bay: Bay, fill_mm: Floats, top_mm: Floats, filled: Mask, spacing_m: float
) -> tuple[Pin, ...]:
    """Pins on the bay's first line, and on its last where no further bay shares it.

    Each stands on the grid node nearest to its place on the line, so that its height is the plan's own:
    `fill_mm` above the slab as it is when the rim is ground in, at `top_mm`.
    """
    across, _ = nodes.bays.turned(x=nodes.x[filled], y=nodes.y[filled])
    # Where a pour ends before its bay does, its outer line runs along the end.
    lines = [(bay.low_m if not _first(nodes, bay) else bay.low_m + BORDER_M, float(across.min()))]
    if bay.last_of_phase:
        lines.append((bay.high_m - BORDER_M, float(across.max())))
    chosen: list[int] = []
    for line, end in lines:
        chosen += _along(nodes=nodes, line=line, filled=filled, spacing_m=spacing_m) or _along(
            nodes=nodes, line=end, filled=filled, spacing_m=spacing_m
        )
    return tuple(
        _pin(floor=floor, nodes=nodes, n=n, fill_mm=fill_mm, top_mm=top_mm) for n in dict.fromkeys(chosen)
    )


def _first(nodes: Nodes, bay: Bay) -> bool:
    return all(other.low_m >= bay.low_m for other in nodes.bays.bays if other.phase == bay.phase)


def _along(*, nodes: Nodes, line: float, filled: Mask, spacing_m: float) -> list[int]:
    across, along = nodes.bays.turned(x=nodes.x, y=nodes.y)
    step = nodes.grid.step_m
    on_line = np.flatnonzero(filled & (np.abs(across - line) <= step))
    if not len(on_line):
        return []
    low, high = float(along[on_line].min()), float(along[on_line].max())
    inset = min(BORDER_M, (high - low) / 2)
    low, high = low + inset, high - inset
    places = np.linspace(low, high, max(1, ceil((high - low) / spacing_m - 1e-9)) + 1)
    squared = (along[on_line][None, :] - places[:, None]) ** 2 + (across[on_line] - line) ** 2
    nearest = squared.argmin(axis=1)
    near_enough = squared.min(axis=1) <= 2 * step**2
    return [int(on_line[k]) for k, ok in zip(nearest, near_enough, strict=True) if ok]


def _pin(*, floor: Floor, nodes: Nodes, n: int, fill_mm: Floats, top_mm: Floats) -> Pin:
    at = (float(nodes.x[n]), float(nodes.y[n]))
    return Pin(
        at=at,
        above_slab_m=float(fill_mm[n]) * 1e-3,
        height_m=float(top_mm[n]) * 1e-3,
        walls=walls_of(floor=floor, at=at),
    )
