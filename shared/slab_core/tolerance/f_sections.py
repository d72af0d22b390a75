"""F-numbers by the parts of a floor between its construction joints.

ASTM E1155 lays no line across such a joint, so each part is a test section of its own; a class's least local
values are asked of each. What "local" means in ACI 117 was not read beyond the share: this is our reading.
"""

from dataclasses import replace

import shapely

from slab_core.errors import Problem
from slab_core.rooms.geometry import floor_polygon
from slab_core.rooms.model import Floor
from slab_core.surveys.model import Profile
from slab_core.tolerance.f_numbers import combined
from slab_core.tolerance.model import ClassFNumbers, FNumbers, LineFNumbers, SectionFNumbers, ToleranceSpec

DRAWN_M = 0.02
"""A joint drawn so far short of a wall still parts the floor; it is taken as twice as wide."""


def by_sections(numbers: FNumbers | None, *, floor: Floor, profiles: tuple[Profile, ...]) -> FNumbers | None:
    """The numbers with those of each part that holds a line, of a floor with several parts."""
    parts = _parts(floor)
    if numbers is None or numbers.estimated or len(parts) < 2:
        return numbers
    lines = {profile.id: shapely.LineString([profile.start, profile.end]) for profile in profiles}
    found = []
    for part in parts:
        inside = tuple(line for line in numbers.lines if _mostly_in(lines[line.line], part))
        if inside:
            found.append(_section(inside))
    missing = len(parts) - len(found)
    note = f"no line in {missing} of {len(parts)} parts between construction joints"
    notes = (*numbers.notes, note) if missing else numbers.notes
    return replace(numbers, sections=tuple(found), notes=notes)


def reaches_locally(numbers: FNumbers, *, of_class: ClassFNumbers | None) -> bool:
    """Whether every measured part reaches the least local values of a class, if one is asked for."""
    return of_class is None or not _too_low(numbers, of_class=of_class)


def local_problems(*, numbers: FNumbers | None, spec: ToleranceSpec) -> tuple[Problem, ...]:
    """Parts whose F-numbers are below the least local ones of the class that is asked for."""
    if numbers is None or numbers.estimated or spec.f_numbers_class is None:
        return ()
    ff, fl = spec.f_numbers_class.local
    return tuple(
        Problem(
            code="f-numbers-not-met",
            detail=f"the part between construction joints with {_named(section.lines)} has FF "
            f"{section.ff:.1f} and FL {section.fl:.1f}, where each part has to reach FF {ff:g} and FL "
            f"{fl:g}: measure it again after the correction",
            pointer="/tolerance",
        )
        for section in _too_low(numbers, of_class=spec.f_numbers_class)
    )


def _too_low(numbers: FNumbers, *, of_class: ClassFNumbers) -> list[SectionFNumbers]:
    ff, fl = of_class.local
    return [section for section in numbers.sections if section.ff < ff or section.fl < fl]


def _parts(floor: Floor) -> list[shapely.Geometry]:
    cuts = [
        shapely.LineString([joint.start, joint.end]).buffer(DRAWN_M, cap_style="square")
        for room in floor.rooms
        for joint in room.joints
        if joint.kind == "construction"
    ]
    whole = floor_polygon(floor)
    return list(shapely.get_parts(whole.difference(shapely.union_all(cuts)))) if cuts else [whole]


def _mostly_in(line: shapely.LineString, part: shapely.Geometry) -> bool:
    return bool(line.intersection(part).length > line.length / 2)


def _section(lines: tuple[LineFNumbers, ...]) -> SectionFNumbers:
    return SectionFNumbers(
        lines=tuple(line.line for line in lines),
        ff=combined(tuple((line.ff, line.q_count) for line in lines)),
        fl=combined(tuple((line.fl, line.z_count) for line in lines)),
    )


def _named(lines: tuple[str, ...]) -> str:
    return f"line {lines[0]}" if len(lines) == 1 else "lines " + ", ".join(lines)
