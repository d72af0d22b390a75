"""Floors for the tests of the layout: made here by hand, so that they do not lean on how rooms join."""

import math

import shapely

from slab_core.layout.lay import lay
from slab_core.layout.model import Layout
from slab_core.materials import starter
from slab_core.materials.model import Climate, Covering
from slab_core.numerics.budget import Budget
from slab_core.rooms.model import Floor, Obstacle, Opening, Ring, Room


def rectangle(x0: float, y0: float, x1: float, y1: float) -> Ring:
    return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))


def floor_of(
    outline: Ring,
    *,
    holes: tuple[Ring, ...] = (),
    obstacles: tuple[Obstacle, ...] = (),
    openings: tuple[Opening, ...] = (),
) -> Floor:
    room = Room(id="room", name="Room", outline=outline, holes=holes, obstacles=obstacles, openings=openings)
    shape = shapely.Polygon(outline)
    for ring in (*holes, *(obstacle.outline for obstacle in obstacles)):
        shape = shape.difference(shapely.Polygon(ring))
    shape = shapely.geometry.polygon.orient(shape)
    return Floor(
        id="room",
        rooms=(room,),
        shell=tuple(shape.exterior.coords[:-1]),
        gaps=tuple(tuple(ring.coords[:-1]) for ring in shape.interiors),
        area_m2=shape.area,
        wall_m=shape.exterior.length,
    )


def laid(floor: Floor, *, covering: Covering | None = None, seed: int = 1) -> Layout:
    return lay(
        floor=floor,
        covering=covering or starter.covering(),
        adhesive=starter.plain_adhesive(),
        rates=starter.rates(),
        climate=Climate(),
        seed=seed,
        budget=Budget(),
    )


def may_be_covered(floor: Floor, *, gap_m: float) -> shapely.Geometry:
    """The floor less every point within the gap of its edge, corners kept sharp."""
    whole = shapely.Polygon(floor.shell, floor.gaps)
    return whole.buffer(-gap_m, join_style="mitre", mitre_limit=5.0)


def pieces_on_floor(layout: Layout) -> list[shapely.Geometry]:
    """Every piece as a shape in floor coordinates, turned here and not by the layout's own code."""
    c, s = math.cos(math.radians(layout.direction_deg)), math.sin(math.radians(layout.direction_deg))
    (x0, y0), found = layout.origin, []
    for piece in layout.pieces:
        rings = piece.outline or (rectangle(piece.start_m, piece.near_m, piece.end_m, piece.far_m),)
        turned = [[(x0 + c * u - s * v, y0 + s * u + c * v) for u, v in ring] for ring in rings]
        found.append(shapely.union_all([shapely.Polygon(ring) for ring in turned]))
    return found
