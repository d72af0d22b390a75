"""Holes, obstacles and keep-out zones: inside their room, the former apart from each other."""

import shapely

from slab_core.errors import Problem
from slab_core.rooms.edges import edge_name, edges
from slab_core.rooms.model import Ring, Room
from slab_core.rooms.openings import threshold_problems
from slab_core.rooms.rings import ring_problems
from slab_core.rooms.wording import length, place, refusal

SLACK_M = 0.01
"""How far a measured ring may stick out of its room; a hearth stands against its wall, measured twice."""

_OVERLAP_M2 = 1e-4


def content_problems(*, room: Room, pointer: str) -> tuple[Problem, ...]:
    """Refusals for the holes and obstacles of a room whose outline is sound."""
    outline = shapely.Polygon(room.outline)
    problems = _same_ids(room, what="obstacle", ids=[o.id for o in room.obstacles], at=f"{pointer}/obstacles")
    sound: list[tuple[str, shapely.Polygon]] = []
    for what, code, at, ring in _contents(room, pointer):
        found = ring_problems(ring=ring, pointer=at, what=what)
        found = found or _outside(ring, outline=outline, code=code, pointer=at, what=what)
        polygon = None if found else shapely.Polygon(ring)
        if polygon is not None:
            found = _overlaps(polygon, others=sound, code=code, pointer=at, what=what)
            sound.append((what, polygon))
        problems.extend(found)
    for i, obstacle in enumerate(room.obstacles):
        name, at = f"obstacle “{obstacle.id}”", f"{pointer}/obstacles/{i}/threshold"
        problems.extend(threshold_problems(obstacle.threshold, name=name, pointer=at))
    return tuple(problems)


def keep_out_problems(*, room: Room, pointer: str) -> tuple[Problem, ...]:
    """Refusals for the keep-out zones of a room whose outline is sound. They may overlap each other and lie
    under obstacles."""
    outline, at = shapely.Polygon(room.outline), f"{pointer}/keep_outs"
    ids = [zone.id for zone in room.keep_outs]
    problems = _same_ids(room, what="keep-out", ids=ids, at=at)
    for i, zone in enumerate(room.keep_outs):
        what, place = f"keep-out zone “{zone.id}”", f"{at}/{i}/outline"
        problems += ring_problems(ring=zone.outline, pointer=place, what=what) or _outside(
            zone.outline, outline=outline, code="keep-out", pointer=place, what=what
        )
    return tuple(problems)


def _same_ids(room: Room, *, what: str, ids: list[str], at: str) -> list[Problem]:
    return [
        refusal(
            code=f"{what}-id-duplicate",
            detail=f"a second {what} of room “{room.id}” is called “{id_}”; give each its own id",
            pointer=f"{at}/{i}/id",
        )
        for i, id_ in enumerate(ids)
        if id_ in ids[:i]
    ]


def _contents(room: Room, pointer: str) -> list[tuple[str, str, str, Ring]]:
    holes = [(f"hole {i + 1}", "hole", f"{pointer}/holes/{i}", ring) for i, ring in enumerate(room.holes)]
    return holes + [
        (f"obstacle “{obstacle.id}”", "obstacle", f"{pointer}/obstacles/{i}/outline", obstacle.outline)
        for i, obstacle in enumerate(room.obstacles)
    ]


def _outside(
    ring: Ring, *, outline: shapely.Polygon, code: str, pointer: str, what: str
) -> tuple[Problem, ...]:
    room = outline.buffer(SLACK_M)
    for i, vertex in enumerate(ring):
        if not room.covers(shapely.Point(vertex)):
            out = length(float(outline.distance(shapely.Point(vertex))))
            detail = f"vertex {i + 1} of {what} at {place(vertex)} is {out} outside the room; move it inside"
            return (refusal(code=f"{code}-outside", detail=detail, pointer=f"{pointer}/{i}"),)
    for i, edge in enumerate(edges(ring)):
        if not room.covers(shapely.LineString(edge)):
            name = edge_name(i, count=len(ring))
            detail = f"edge {name} of {what} crosses the room's outline; it must stay inside"
            return (refusal(code=f"{code}-crossing", detail=detail, pointer=f"{pointer}/{i}"),)
    return ()


def _overlaps(
    polygon: shapely.Polygon, *, others: list[tuple[str, shapely.Polygon]], code: str, pointer: str, what: str
) -> tuple[Problem, ...]:
    return tuple(
        refusal(
            code=f"{code}-overlapping",
            detail=f"{what} overlaps {name} by {shared:.4f} m²; draw what they cover together as one",
            pointer=pointer,
        )
        for name, other in others
        if (shared := float(polygon.intersection(other).area)) > _OVERLAP_M2
    )
