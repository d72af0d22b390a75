"""Where ASTM E1155 wants sample lines, in words for each line that is laid otherwise.

Sources: public secondary copies of the standard: parallel lines 4 ft (1.2 m) apart, nothing within 2 ft
(0.6 m) of edges, penetrations and joints, no line across a construction joint; in a section narrower than
25 ft (7.5 m) lines at 45° to the longest boundary, else equal lengths along and across it. The longest
boundary stands for the longest construction joint. Lines are flagged, not left out.
"""

from math import atan2, degrees

import shapely

from slab_core.rooms.edges import edges, length_m
from slab_core.rooms.geometry import floor_polygon
from slab_core.rooms.model import Floor
from slab_core.surveys.model import Profile
from slab_core.tolerance.section import width_m

APART_M, OFF_EDGES_M, NARROW_M = 1.2, 0.6, 7.5
ALIKE_DEG = 10.0
"""Lines within this of a direction have it; the standard's own limit was not read."""

UNEQUAL = 1.5
"""The longer of the two total lengths may be so many times the other; the standard's limit was not read."""


def misplacements(*, floor: Floor, profiles: tuple[Profile, ...]) -> tuple[str, ...]:
    """One phrase for each thing about the lines' places that differs from the standard's rules."""
    if not profiles:
        return ()
    lines = {profile.id: shapely.LineString([profile.start, profile.end]) for profile in profiles}
    return (
        *_near_edges(floor, lines),
        *_across_joints(floor, lines),
        *_too_close(lines),
        *_directions(floor, lines),
    )


def line_directions_deg(floor: Floor) -> tuple[float, float]:
    """The two directions in which lines are to run."""
    along = _angle(shapely.LineString(max(edges(floor.shell), key=length_m)))
    first = along + 45.0 if _is_narrow(floor) else along
    return first, first + 90.0


def _is_narrow(floor: Floor) -> bool:
    return width_m(floor) < NARROW_M


def _near_edges(floor: Floor, lines: dict[str, shapely.LineString]) -> list[str]:
    boundary = floor_polygon(floor).boundary
    near = [name for name, line in lines.items() if boundary.distance(line) < OFF_EDGES_M - 1e-6]
    return [f"nearer than 2 ft to a wall or an edge: {_names(near)}"] if near else []


def _across_joints(floor: Floor, lines: dict[str, shapely.LineString]) -> list[str]:
    found = []
    for room in floor.rooms:
        for joint in room.joints:
            cut = shapely.LineString([joint.start, joint.end])
            crossing = [name for name, line in lines.items() if line.intersects(cut)]
            if joint.kind == "construction" and crossing:
                found.append(f"across the construction joint {joint.id}: {_names(crossing)}")
            near = [
                name
                for name, line in lines.items()
                if name not in crossing and line.distance(cut) < OFF_EDGES_M - 1e-6
            ]
            if joint.kind == "construction" and near:
                found.append(f"nearer than 2 ft to the construction joint {joint.id}: {_names(near)}")
    return found


def _too_close(lines: dict[str, shapely.LineString]) -> list[str]:
    names = list(lines)
    pairs = [
        f"{a} and {b}"
        for k, a in enumerate(names)
        for b in names[k + 1 :]
        if _between(_angle(lines[a]), _angle(lines[b])) < ALIKE_DEG
        and lines[a].distance(lines[b]) < APART_M - 1e-6
    ]
    return [f"parallel lines nearer than 4 ft to each other: {', '.join(pairs)}"] if pairs else []


def _directions(floor: Floor, lines: dict[str, shapely.LineString]) -> list[str]:
    longest = max(edges(floor.shell), key=length_m)
    along = _angle(shapely.LineString(longest))
    turned = {name: _between(_angle(line), along) for name, line in lines.items()}
    if _is_narrow(floor):
        skew = [name for name, angle in turned.items() if abs(angle - 45.0) > ALIKE_DEG]
        return [f"not at 45° in a section narrower than 25 ft: {_names(skew)}"] if skew else []
    skew = [name for name, angle in turned.items() if ALIKE_DEG < angle < 90.0 - ALIKE_DEG]
    found = [f"neither along nor across the longest side: {_names(skew)}"] if skew else []
    lengths = [
        sum(lines[name].length for name, angle in turned.items() if (angle < 45.0) is first)
        for first in (True, False)
    ]
    if max(lengths) > UNEQUAL * min(lengths):
        found.append(f"{lengths[0]:.1f} m of line along the longest side and {lengths[1]:.1f} m across it")
    return found


def _angle(line: shapely.LineString) -> float:
    (x0, y0), (x1, y1) = line.coords
    return degrees(atan2(y1 - y0, x1 - x0)) % 180.0


def _between(a: float, b: float) -> float:
    """Degrees between two directions, 0 to 90."""
    apart = abs(a - b) % 180.0
    return min(apart, 180.0 - apart)


def _names(names: list[str]) -> str:
    return f"line {names[0]}" if len(names) == 1 else "lines " + ", ".join(names)
