"""What a crew sets out on the slab: where bays end, and pins by two walls."""

import shapely

from slab_core.correction.bays import Bay
from slab_core.correction.model import Pin
from slab_core.correction.nodes import Nodes
from slab_core.correction.strips import polygons
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


def pin_at(*, floor: Floor, nodes: Nodes, n: int, fill_mm: Floats, top_mm: Floats) -> Pin:
    """A pin on a node, so that its height is the plan's own: `fill_mm` above the slab as it is when the rim
    is ground in, at `top_mm`."""
    at = (float(nodes.x[n]), float(nodes.y[n]))
    return Pin(
        at=at,
        above_slab_m=float(fill_mm[n]) * 1e-3,
        height_m=float(top_mm[n]) * 1e-3,
        walls=walls_of(floor=floor, at=at),
    )
