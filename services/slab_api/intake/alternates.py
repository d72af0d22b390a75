"""Which corrections are worked out side by side, and where the level one has to run."""

from collections.abc import Sequence
from math import isfinite

from slab_api.intake.reader import Path, Reader
from slab_api.schemas.options import MOST_ALTERNATES, LevelPlaceDocument, OptionsDocument
from slab_core.correction.family import LevelPoint
from slab_core.rooms.model import Opening, Point, Room
from slab_core.stages import ALLOWANCE, ALTERNATES, CHEAPEST, LEVEL, PLANE

_AT = ("options", "alternates")
_FORETOLD = ((PLANE,), (CHEAPEST,))
_ALLOWED = f"there are {', '.join(ALTERNATES)}"


def read_alternates(options: OptionsDocument, *, reader: Reader) -> tuple[str, ...]:
    """Their names, the main one first; the one of a slab that nobody has seen by itself."""
    names, at = options.alternates, _AT
    if options.basis == "allowance":
        _without_readings(options, reader=reader)
        return (ALLOWANCE,)
    if not names:
        reader.fault(f"give at least one alternate; {_ALLOWED}", at)
    if len(names) > MOST_ALTERNATES:
        reader.fault(f"give at most {MOST_ALTERNATES} alternates; {_ALLOWED}", at)
    for i, name in enumerate(names[:MOST_ALTERNATES]):
        if name not in ALTERNATES:
            reader.fault(f"{name!r} is no alternate of this service; {_ALLOWED}", (*at, i))
        elif name in names[:i]:
            reader.fault(f"the alternate {name!r} is given twice; give it once; {_ALLOWED}", (*at, i))
    return names


def read_corrected_as(options: OptionsDocument, *, reader: Reader) -> str:
    """What a slab that nobody has seen is to be corrected to; nothing is read into it where there is a
    survey."""
    if options.basis != "allowance":
        return PLANE
    if options.alternates not in _FORETOLD:
        known = " or ".join(f"[{name!r}]" for (name,) in _FORETOLD)
        reader.fault(
            f"before tear-out bags are foretold of {known} alone; give one of them, or set basis to surveyed",
            _AT,
        )
        return PLANE
    return options.alternates[0]


def _without_readings(options: OptionsDocument, *, reader: Reader) -> None:
    """What needs a surveyed slab cannot be asked for beside an allowance."""
    plain = OptionsDocument()
    for name in ("lower_bound", "confidence", "grid_step", "doorways"):
        if getattr(options, name) != getattr(plain, name):
            reader.fault(
                "this needs a surveyed slab; leave it out, or set basis to surveyed", ("options", name)
            )


def read_level_through(
    options: OptionsDocument, *, rooms: Sequence[Room], reader: Reader
) -> tuple[LevelPoint, ...]:
    """The places that the level plane runs through, in the coordinates of the job."""
    at: Path = ("options", "level_through")
    if options.level_through and LEVEL not in options.alternates:
        reader.fault(
            f"this holds for the alternate {LEVEL!r} alone; add it to alternates, or leave it out", at
        )
    found = []
    for i, place in enumerate(options.level_through):
        spot = _spot(place, rooms=rooms, reader=reader, at=(*at, i))
        height = place.height
        height_m = None if height is None else reader.length(height, (*at, i, "height"), vertical=True)
        if spot is not None:
            found.append(LevelPoint(at=spot, height_m=height_m))
    return tuple(found)


def _spot(place: LevelPlaceDocument, *, rooms: Sequence[Room], reader: Reader, at: Path) -> Point | None:
    by_name = place.room is not None and place.opening is not None
    if (place.at is None) != by_name or (place.at is not None and (place.room or place.opening)):
        reader.fault("give either at, a place in the plan, or a room and one of its openings", at)
        return None
    if place.at is not None:
        spot = reader.point(place.at, (*at, "at"))
        return spot if all(map(isfinite, spot)) else None
    room = next((room for room in rooms if room.id == place.room), None)
    if room is None:
        known = ", ".join(room.id for room in rooms)
        reader.fault(f"there is no room {place.room!r}; there are {known}", (*at, "room"))
        return None
    return _middle(place.opening, room=room, reader=reader, at=(*at, "opening"))


def _middle(name: str | None, *, room: Room, reader: Reader, at: Path) -> Point | None:
    opening: Opening | None = next((one for one in room.openings if one.id == name), None)
    if opening is None:
        known = ", ".join(one.id for one in room.openings) or "none"
        reader.fault(f"the room {room.id} has no opening {name!r}; there are {known}", at)
        return None
    (x0, y0), (x1, y1) = opening.start, opening.end
    return (x0 + x1) / 2, (y0 + y1) / 2
