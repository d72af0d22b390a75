"""What can be wrong with one ring of vertices by itself."""

from math import isfinite, radians, sin

import numpy as np
import shapely
from numpy.typing import NDArray

from slab_core.errors import Problem
from slab_core.rooms.edges import edge_name, edges, length_m, project
from slab_core.rooms.model import Point, Ring
from slab_core.rooms.wording import length, place, refusal

SAME_PLACE_M = 0.001
"""Two vertices nearer than this are one vertex."""

_SPIKE_SINE = sin(radians(1.0))
FARTHEST_M = 100_000.0
"""No place of a job is farther from the origin than this: coordinates of a country lose millimetres."""

_MOST_VERTICES = 5_000
_MOST_CROSSINGS = 5


def ring_problems(*, ring: Ring, pointer: str, what: str) -> tuple[Problem, ...]:
    """Refusals for a ring; `what` names it in their texts, `pointer` is where it stands."""
    if not 3 <= len(ring) <= _MOST_VERTICES:
        return (_count(ring, pointer=pointer, what=what),)
    lost = _not_places(ring, pointer=pointer, what=what)
    if lost:
        return lost
    repeated = _repeated(ring, pointer=pointer, what=what)
    if repeated:
        return repeated
    spikes = _spikes(ring, pointer=pointer, what=what)
    return spikes or _crossings(ring, pointer=pointer, what=what)


def point_problems(*, point: Point, pointer: str, what: str) -> tuple[Problem, ...]:
    """Refusals for a point that is not finite or absurdly far out."""
    for axis, value in enumerate(point):
        if not isfinite(value):
            detail = f"{what} has {'xy'[axis]} = {value}; write a finite number"
            return (refusal(code="not-finite", detail=detail, pointer=f"{pointer}/{axis}"),)
        if abs(value) > FARTHEST_M:
            detail = (
                f"{what} has {'xy'[axis]} = {value:g} m, more than {FARTHEST_M:g} m from the origin; "
                "put the origin near the job, or check the unit"
            )
            return (refusal(code="too-far-out", detail=detail, pointer=f"{pointer}/{axis}"),)
    return ()


def _count(ring: Ring, *, pointer: str, what: str) -> Problem:
    if len(ring) < 3:
        detail = f"{what} has {len(ring)} vertices; it needs at least 3, given once each, in order"
        return refusal(code="too-few-vertices", detail=detail, pointer=pointer)
    detail = f"{what} has {len(ring)} vertices; draw its arcs with at most {_MOST_VERTICES} in all"
    return refusal(code="too-many-vertices", detail=detail, pointer=pointer)


def _not_places(ring: Ring, *, pointer: str, what: str) -> tuple[Problem, ...]:
    return tuple(
        problem
        for i, point in enumerate(ring)
        for problem in point_problems(point=point, pointer=f"{pointer}/{i}", what=f"vertex {i + 1} of {what}")
    )


def _repeated(ring: Ring, *, pointer: str, what: str) -> tuple[Problem, ...]:
    problems = []
    for i, edge in enumerate(edges(ring)):
        if length_m(edge) >= SAME_PLACE_M:
            continue
        last = i == len(ring) - 1
        at, other = (i, 1) if last else (i + 1, i + 1)
        why = "the ring closes by itself: leave the last vertex out" if last else "leave one of the two out"
        detail = f"vertex {at + 1} of {what} repeats vertex {other} at {place(ring[at])}; {why}"
        problems.append(refusal(code="repeated-vertex", detail=detail, pointer=f"{pointer}/{at}"))
    return tuple(problems)


def _spikes(ring: Ring, *, pointer: str, what: str) -> tuple[Problem, ...]:
    sides = edges(ring)
    problems = []
    for i, corner in enumerate(ring):
        before, after = sides[i - 1], sides[i]
        along, across = project(after[1], edge=before)
        if along < length_m(before) and abs(across) < _SPIKE_SINE * length_m(after):
            detail = (
                f"{what} runs out to vertex {i + 1} at {place(corner)} and straight back; "
                f"leave the vertex out, or give the strip its width (it is {length(abs(across))} wide)"
            )
            problems.append(refusal(code="spike", detail=detail, pointer=f"{pointer}/{i}"))
    return tuple(problems)


def _crossings(ring: Ring, *, pointer: str, what: str) -> tuple[Problem, ...]:
    if shapely.Polygon(ring).is_valid:
        return ()
    n = len(ring)
    lines = shapely.linestrings(np.asarray(edges(ring), dtype=np.float64))
    problems: list[Problem] = []
    for i in range(n - 2):
        others = np.arange(i + 2, n - 1 if i == 0 else n)
        for j in others[shapely.intersects(lines[i], lines[others])]:
            problems.append(_crossing(ring, i=i, j=int(j), lines=lines, pointer=pointer, what=what))
            if len(problems) == _MOST_CROSSINGS:
                return tuple(problems)
    return tuple(problems)


def _crossing(ring: Ring, *, i: int, j: int, lines: NDArray[np.object_], pointer: str, what: str) -> Problem:
    n = len(ring)
    meet = lines[i].intersection(lines[j]).representative_point()
    detail = (
        f"edge {edge_name(i, count=n)} of {what} meets its edge {edge_name(j, count=n)} at "
        f"{place((meet.x, meet.y))}; an outline may not touch or cross itself: check vertex {j + 1} at "
        f"{place(ring[j])} and the order of the vertices"
    )
    return refusal(code="self-crossing", detail=detail, pointer=f"{pointer}/{j}")
