"""How many person-hours crews usually take for what is in a job's scope, counted beside the takeoff.

Every range is common practice with no single source, or from memory where that is said. The firm's own rates
do not enter, so that a rate or a quantity that is far off shows.
"""

from dataclasses import dataclass

from slab_core.takeoff.brief import Brief
from slab_core.takeoff.filling import finished_m2, prime_coats
from slab_core.takeoff.grinding import LEAVES_RESIDUE
from slab_core.takeoff.moisture import Visit
from slab_core.takeoff.prepare import makes_dust
from slab_core.units.conversions import SQUARE_METRES_PER_SQUARE_FOOT as FOOT2_M2
from slab_core.units.lengths import METRES_PER_FOOT as FOOT_M

REMOVAL_FT2_PER_PH = {
    "floating": (60.0, 120.0),
    "carpet": (100.0, 200.0),
    "glued-wood": (12.0, 30.0),
    "tile": (10.0, 20.0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Person-hours of one part of the scope, from a quick crew to a slow one."""

    what: str
    low: float
    high: float


def usual_parts(brief: Brief, *, rounds: tuple[Visit, ...], trips: float) -> tuple[Part, ...]:
    """The parts of the scope that take hours; `trips` are the ways to the site that no pour day holds."""
    made = (
        *_before(brief, rounds),
        *_grinding(brief),
        *_filling(brief),
        *_boards(brief),
        *_around(brief, trips),
    )
    return tuple(part for part in made if part.high > 0)


def _at(what: str, quantity: float, slow: float, quick: float) -> Part:
    """So much, at so much an hour."""
    return Part(what=what, low=quantity / quick, high=quantity / slow)


def _each(what: str, count: float, least: float, most: float) -> Part:
    """So many, at so many hours each."""
    return Part(what=what, low=count * least, high=count * most)


def _before(brief: Brief, rounds: tuple[Visit, ...]) -> tuple[Part, ...]:
    ft2, wall_ft = brief.floor_m2() / FOOT2_M2, _wall_ft(brief)
    slow, quick = REMOVAL_FT2_PER_PH.get(brief.scope.removal, (1.0, 1.0))
    out = ft2 if brief.scope.removal != "none" else 0.0
    shot = float(brief.reading_count > 0 or not brief.scans)
    return (
        _at(f"{brief.scope.removal} floor out", out, slow, quick),
        _at("base off", wall_ft * brief.scope.base_off, 40, 60),
        _each("furniture out and in", 2 * brief.scope.furniture_rooms, 0.75, 1.5),
        _each("dust containment", float(makes_dust(brief)), 1, 3),  # from memory
        _each("moisture tests", sum(visit.tests() for visit in rounds), 0.5, 1),  # from memory
        # A reading every 2 ft or one every foot, where a scanner does not do all of it.
        Part(what="survey", low=shot * ft2 / 4 / 120, high=shot * ft2 / 60),
        _each("scans", len(brief.scans), 0.3, 1),  # from memory
    )


def _grinding(brief: Brief) -> tuple[Part, ...]:
    bonds, kept = brief.bonds(), [area.kept_off() for area in brief.areas]
    kept_m2, kept_m = sum(m2 for m2, _ in kept), sum(wall_m for _, wall_m in kept)
    slow, quick = (60, 100) if brief.scope.removal in LEAVES_RESIDUE else (100, 200)
    height = sum(area.grinder_hours + area.hand_grinder_hours for area in brief.areas)
    bond_ft2 = bonds * (brief.floor_m2() - kept_m2) / FOOT2_M2
    days = len(brief.areas) * float(bonds or height > 0) + bond_ft2 / slow / 6 + height / 6
    return (
        _at("grinding for bond", bond_ft2, slow, quick),
        _at("edges by hand", bonds * (_wall_ft(brief) - kept_m / FOOT_M), 25, 40),
        _each("grinding for height", height, 0.8, 1.3),  # from memory
        _each("setting up the grinder", days, 0, 1),
    )


def _filling(brief: Brief) -> tuple[Part, ...]:
    ft2 = sum(area.poured_m2 for area in brief.areas) / FOOT2_M2
    pins = sum(area.pin_count(spacing_m=brief.rates.pin_spacing_m) for area in brief.areas)
    border_ft = sum(area.border_m for area in brief.areas) / FOOT_M
    bags = sum(area.bags() for area in brief.areas)
    tight = float(brief.tight())
    finished_ft2 = sum(finished_m2(brief, area) for area in brief.areas) / FOOT2_M2
    placed = [part for area in brief.areas for part in area.patches]
    patches = [part for part in placed if part.method == "patch"]
    skimmed_ft2 = sum(part.area_m2 for part in placed if part.method == "skim") / FOOT2_M2
    by_hand = sum(1 for area in brief.areas if area.patches and not area.pours)
    return (
        _at(f"{bags} bags by three", 3 * bags, 18, 25),
        _each("pour days", sum(area.pour_days for area in brief.areas), 6, 9),
        _at("screed pins", pins, 8, 15),
        _each("patches", len(patches), 0.3, 0.8),
        _at("skims", skimmed_ft2, 30, 60),
        _at("bags of patch", sum(patch.bags for patch in patches), 1, 2),
        _each("setting up to patch", by_hand, 0.3, 0.8),
        _at("primer", ft2 * prime_coats(brief), 250, 400),
        _at("borders", border_ft, 10, 15),
        _at("polish", tight * ft2, 80, 150),
        _at("polish along walls", tight * border_ft, 25, 40),
        _each("finishing", finished_ft2 / 300, 2, 18),  # 2-6 a cycle, one to three cycles
    )


def _boards(brief: Brief) -> tuple[Part, ...]:
    ft2 = brief.floor_m2() / FOOT2_M2
    laid_ft2 = sum(area.laid_m2 for area in brief.areas) / FOOT2_M2
    strips = sum(strip.length_m for area in brief.areas for strip in area.transitions)
    return (
        _at("flatness check", ft2, 150, 300),
        _at("boards cut and laid", laid_ft2, 1 / (1 / 15 + 1 / 25), 1 / (1 / 25 + 1 / 40)),
        _at("hearth", sum(area.undercut_m for area in brief.areas) / FOOT_M, 3, 6),
        _at("door casings", sum(area.casing_legs for area in brief.areas), 4, 8),
        _at("transitions", strips / FOOT_M, 6, 12),
        _each("doorways changed", sum(len(plan.doorways) for plan in brief.plans), 0.5, 2),
        _at("base on", _wall_ft(brief) * (brief.scope.base_off or brief.scope.base_new), 25, 40),
        _at("cleaning", ft2, 150, 300),
    )


def _around(brief: Brief, trips: float) -> tuple[Part, ...]:
    return (
        _at("carpet edge", brief.scope.carpet_edge_m / FOOT_M, 10, 20),
        _each("trips", trips, 1, 1.5),
        _each("hand-over", 1, 1, 3),  # from memory
    )


def _wall_ft(brief: Brief) -> float:
    return sum(area.wall_m for area in brief.areas) / FOOT_M
