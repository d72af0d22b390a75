"""Which floor each reading lies on, and the readings that lie on none."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from slab_core.errors import Problem
from slab_core.numerics.grid import Floats, Ints, Mask
from slab_core.rooms.geometry import floor_polygon
from slab_core.rooms.model import Rooms
from slab_core.rooms.wording import length, place, refusal
from slab_core.surveys.edges import along, gap_point, rests
from slab_core.surveys.findings import capped
from slab_core.surveys.model import Gaps, Stray, StretchedLine, Survey
from slab_core.surveys.naming import named
from slab_core.surveys.rows import HeightRows
from slab_core.surveys.stretched import reading_places

Coordinates = tuple[Floats, Floats]
"""x and y in metres."""

LEAST_REACH_M = 0.02
"""A reading this near to a floor is on it, however well its place is said to be known."""

_REACH_SD = 2.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Places:
    """Per place: the number of its floor (-1: none), whether it lies inside that floor and no other,
    and how far it is from the nearest floor in metres."""

    floor: Ints
    is_plain: Mask
    away_m: Floats


def place_readings(
    *, rooms: Rooms, surveys: tuple[Survey, ...], rows: HeightRows, scanned: frozenset[str] = frozenset()
) -> tuple[tuple[Stray, ...], tuple[Problem, ...]]:
    """Strays, and what is to say about the places of readings.

    A finding for each reading outside every floor by more than twice its position's standard
    deviation (20 mm at least), and a refusal for each floor left without any reading that no scan shows.
    """
    shapes = [floor_polygon(floor) for floor in rooms.floors]
    ids = [floor.id for floor in rooms.floors]
    reach = np.maximum(_REACH_SD * rows.position_sd_m, LEAST_REACH_M)
    found = _places(x=rows.x_m, y=rows.y_m, reach_m=reach, shapes=shapes)
    strays, problems = _told(found, x=rows.x_m, y=rows.y_m, pointer=rows.pointer, ids=ids)
    measured = set(np.unique(found.floor).tolist())
    for kind in _other_kinds(surveys, shapes=shapes):
        (x, y), placed, prefix = kind
        more = _told(placed, x=x, y=y, pointer=_rows_of(prefix), ids=ids)
        strays, problems = strays + more[0], problems + more[1]
        measured |= set(np.unique(placed.floor).tolist())
    measured |= {number for number, id_ in enumerate(ids) if id_ in scanned}
    return tuple(strays), (*_unmeasured(ids, measured=measured), *capped(problems))


def _other_kinds(
    surveys: tuple[Survey, ...], *, shapes: Sequence[shapely.Polygon]
) -> Iterator[tuple[Coordinates, Places, str]]:
    """Gaps and readings from stretched lines: where they are, on which floor, and where posted."""
    for i, survey in enumerate(surveys):
        for k, gaps in enumerate(survey.gaps):
            yield gap_point(gaps), _gap_places(gaps, shapes=shapes), f"/surveys/{i}/gaps/{k}/gap"
        for k, line in enumerate(survey.stretched_lines):
            placed = _stretched_places(line, shapes=shapes)
            yield reading_places(line), placed, f"/surveys/{i}/stretched_lines/{k}/value"


def _places(*, x: Floats, y: Floats, reach_m: Floats, shapes: Sequence[shapely.Polygon]) -> Places:
    inside = np.array([shapely.contains_xy(shape, x, y) for shape in shapes])
    count = inside.sum(axis=0)
    floor = np.where(count > 0, inside.argmax(axis=0), -1)
    away = np.zeros(len(x))
    loose = np.flatnonzero(count == 0)
    if len(loose):
        points = shapely.points(x[loose], y[loose])
        distance = np.array([shapely.distance(shape, points) for shape in shapes])
        away[loose] = distance.min(axis=0)
        near = away[loose] <= reach_m[loose]
        floor[loose] = np.where(near, distance.argmin(axis=0), -1)
    return Places(floor=floor.astype(np.int32), is_plain=count == 1, away_m=away)


def _gap_places(gaps: Gaps, *, shapes: Sequence[shapely.Polygon]) -> Places:
    """A gap is on a floor when both rests of its edge and its own place are."""
    low, high = rests(gaps)
    return _carried(
        (along(gaps, low), along(gaps, high)), gap_point(gaps), shapes=shapes, reach_m=LEAST_REACH_M
    )


def _stretched_places(line: StretchedLine, *, shapes: Sequence[shapely.Polygon]) -> Places:
    """Ends of known height may be anywhere; ends on the floor must be on the floor that was measured."""
    reach = max(_REACH_SD * line.position_sd_m, LEAST_REACH_M)
    x, y = reading_places(line)
    if line.ends == "elevation":
        return _places(x=x, y=y, reach_m=np.full(len(x), reach), shapes=shapes)
    same = np.ones(len(x))
    start, end = ((same * at[0], same * at[1]) for at in (line.start, line.end))
    return _carried((start, end), (x, y), shapes=shapes, reach_m=reach)


def _carried(
    ends: tuple[Coordinates, Coordinates],
    middle: Coordinates,
    *,
    shapes: Sequence[shapely.Polygon],
    reach_m: float,
) -> Places:
    """Of measured places under something that two other places carry: on a floor if all three are."""
    reach = np.full(len(middle[0]), reach_m)
    first, second, own = (_places(x=x, y=y, reach_m=reach, shapes=shapes) for x, y in (*ends, middle))
    one = (first.floor == second.floor) & (first.floor == own.floor)
    return Places(
        floor=np.where(one, first.floor, -1).astype(np.int32),
        is_plain=one & first.is_plain & second.is_plain & own.is_plain,
        away_m=np.maximum(np.maximum(first.away_m, second.away_m), own.away_m),
    )


def _rows_of(prefix: str) -> Callable[[int], str]:
    return lambda row: f"{prefix}/{row}"


def _told(
    found: Places, *, x: Floats, y: Floats, pointer: Callable[[int], str], ids: Sequence[str]
) -> tuple[list[Stray], list[Problem]]:
    strays, problems = [], []
    for row in np.flatnonzero(~found.is_plain).tolist():
        floor, at = int(found.floor[row]), pointer(row)
        strays.append(Stray(pointer=at, floor_id=ids[floor] if floor >= 0 else ""))
        if floor < 0:
            where = (float(x[row]), float(y[row]))
            problems.append(_outside(where, away_m=float(found.away_m[row]), pointer=at))
    return strays, problems


def _outside(at: tuple[float, float], *, away_m: float, pointer: str) -> Problem:
    how = f"lies {length(away_m)} outside every floor" if away_m > 0 else "reaches from one floor to another"
    detail = (
        f"{named(pointer)}, at {place(at)}, {how}; it is kept and not used: check its place and the rooms"
    )
    return Problem(code="reading-outside", detail=detail, pointer=pointer)


def _unmeasured(ids: Sequence[str], *, measured: set[int]) -> list[Problem]:
    return [
        refusal(
            code="floor-unmeasured",
            detail=f"no reading lies on the floor “{id_}”; measure it, or take its rooms out of the job",
            pointer="/surveys",
        )
        for number, id_ in enumerate(ids)
        if number not in measured
    ]
