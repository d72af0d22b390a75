"""What a job's actuals tell of its slab."""

from slab_core.closeout.model import Comparison, EstimatedLine, SlabTold
from slab_core.closeout.propose import COMPOUND, MACHINE
from slab_core.materials.slab_kinds import age_of
from slab_core.rooms.build import build_rooms
from slab_core.rooms.model import Room
from slab_core.takeoff.model import Scope, Site

GRINDING = f"grind{MACHINE}"
OF_THE_SLAB = frozenset({COMPOUND, "grind", GRINDING, "hand-grind", f"hand-grind{MACHINE}"})
"""What a slab may need nothing of."""

_TROWELLED = frozenset({"patch", "skim"})


def slab_told(
    *,
    rooms: tuple[Room, ...],
    scope: Scope,
    site: Site,
    may_grind: bool,
    one_plane: bool,
    year: int,
    estimated: tuple[EstimatedLine, ...],
    comparison: Comparison,
) -> SlabTold:
    """Bags and hours over the whole job. A job that was planned without them took none; one of whose lines
    was not told says nothing, and nor do the bags of one that was trowelled or not brought to one plane, or
    the hours on a slab that nobody may grind, or not everywhere."""
    everywhere = may_grind and not site.slab_has and not any(room.keep_outs for room in rooms)
    in_part = not one_plane or any(line.code in _TROWELLED for line in estimated)
    return SlabTold(
        removal=scope.removal,
        age=age_of(built_year=site.built_year, year=year),
        area_m2=sum(floor.area_m2 for floor in build_rooms(rooms=rooms).floors),
        bags=None if in_part else _took(COMPOUND, estimated, comparison),
        grinding=_took(GRINDING, estimated, comparison) if everywhere else None,
    )


def _took(code: str, estimated: tuple[EstimatedLine, ...], comparison: Comparison) -> float | None:
    actual = {line.key: line.actual for line in comparison.lines}
    keys = [line.key for line in estimated if line.code == code and line.quantity > 0.0]
    if any(key not in actual for key in keys):
        return None
    return sum(actual[key] for key in keys)
