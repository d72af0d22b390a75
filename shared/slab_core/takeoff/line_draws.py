"""How each kind of line varies: labour by its crew, bags by the slab and their yield, parts by the hours."""

from dataclasses import dataclass, field

import numpy as np

from slab_core.numerics.grid import Floats
from slab_core.numerics.streams import stream
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.codes import FLOOR_GRINDER, HAND_GRINDER, MASONRY_SAW, TRIP
from slab_core.takeoff.model import TakeoffLine

Place = tuple[str, int]
_FOR_HEIGHT = ("grind", "hand-grind")
PARTS = {
    "grinding-segments": (FLOOR_GRINDER,),
    "cup-wheel": (HAND_GRINDER,),
    "vacuum-bag": (FLOOR_GRINDER, HAND_GRINDER, MASONRY_SAW),
    "vacuum-filter": (FLOOR_GRINDER, HAND_GRINDER, MASONRY_SAW),
    "dust-collection": (FLOOR_GRINDER, HAND_GRINDER, MASONRY_SAW),
}
"""Lines that follow the hours of these machines."""

FILLING = frozenset({"pins", "prime", "pour", "edges", "polish", "finish"})
FILLING_SUPPLIES = frozenset({"primer", "screed-pin", "dam-strip"})
"""Work and material that follow the bags where no plan holds them."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chances:
    """What the slab makes of a plan, in `count` draws: bags of each floor and phase, and the volume ground
    of each floor as a share of what is planned; shape (count,).

    Without a survey there is no plan to hold: `pours` is then all filling of a floor and phase as a share of
    what is planned, and `pour_days` varies with it.
    """

    seed: int
    count: int
    bags: dict[Place, Floats]
    ground: dict[str, Floats]
    pours: dict[Place, Floats] = field(default_factory=dict)
    pour_days: Floats | None = None


def line_draws(*, brief: Brief, lines: tuple[TakeoffLine, ...], chances: Chances) -> dict[int, Floats]:
    """Order quantities of every line that varies, by its place, shape (count,)."""
    found: dict[int, Floats] = {}
    for place, line in enumerate(lines):
        drawn = _first(brief, line, chances)
        if drawn is not None:
            found[place] = drawn
    ratios = {machine: _hours_ratio(lines, found, machine) for machine in _machines(lines)}
    for place, line in enumerate(lines):
        if line.key.code in PARTS:
            found[place] = _part(brief, lines, line, ratios)
    found.update(_trips(brief, lines, found, chances.pour_days))
    return found


def _first(brief: Brief, line: TakeoffLine, chances: Chances) -> Floats | None:
    """What does not follow from other lines; None for what stays as planned."""
    code, product = line.key.code, line.key.product
    if code == "compound":
        return chances.bags[(line.key.floor, line.key.phase)]
    if code == "compound-spare":
        share = brief.catalogue.compound.spare_share
        return np.ceil(sum(chances.bags.values()) * share - 1e-9)
    if code == "mixing":
        return chances.pour_days
    if code == "grinding-dust":
        return line.order * _ground(brief, chances, "")
    if code in PARTS or code == "trip":
        return None
    if line.unit in ("PH", "mh"):
        return line.order * _driver(brief, line, chances) * _pace(brief, code, chances)
    spreads = brief.rates.spreads
    sds = {brief.catalogue.primer.id: spreads.primer, brief.catalogue.adhesive.id: spreads.adhesive}
    if line.kind != "material":
        return None
    filling = _all_filling(brief, chances) if code in FILLING_SUPPLIES else None
    if product in sds:
        spread = _factor(chances, sds[product], "coverage", product)
        return _packages(brief, line, spread if filling is None else spread * filling)
    return None if filling is None else _packages(brief, line, filling)


def _driver(brief: Brief, line: TakeoffLine, chances: Chances) -> Floats | float:
    """How the slab alone changes the hours of a line."""
    code, place = line.key.code, (line.key.floor, line.key.phase)
    if code in _FOR_HEIGHT:
        return _ground(brief, chances, line.key.floor)
    if code in FILLING and place in chances.pours:
        return chances.pours[place]
    if code != "pour":
        return 1.0
    area = next(area for area in brief.areas if (area.floor, area.phase) == place)
    days = brief.rates.pour_day_ph * area.pour_days if line.unit == "PH" else 0.0
    placing = max(0.0, 1.0 - days / line.order)
    return 1.0 + placing * (chances.bags[place] / area.bags() - 1.0)


def _all_filling(brief: Brief, chances: Chances) -> Floats | None:
    """Filling of the whole job as a share of what is planned; None where a plan holds it."""
    if not chances.pours:
        return None
    return np.asarray(sum(chances.bags.values()) / sum(area.bags() for area in brief.areas))


def _pace(brief: Brief, code: str, chances: Chances) -> Floats:
    """A crew that is slow at one thing is a little slow at all."""
    spreads = brief.rates.spreads
    own = spreads.grinding if code in _FOR_HEIGHT else spreads.labour
    return _factor(chances, spreads.crew, "crew") * _factor(chances, own, "pace", code)


def _factor(chances: Chances, sd: float, *names: str) -> Floats:
    """Lognormal with the median 1."""
    return np.asarray(np.exp(sd * stream(chances.seed, *names).standard_normal(chances.count)))


def _ground(brief: Brief, chances: Chances, floor: str) -> Floats:
    """The volume ground of a floor, or of all, as a share of what is planned."""
    if floor:
        return chances.ground[floor]
    planned = sum(plan.grind_m3 for plan in brief.plans)
    return np.asarray(sum(plan.grind_m3 * chances.ground[plan.floor_id] for plan in brief.plans) / planned)


def _packages(brief: Brief, line: TakeoffLine, factor: Floats) -> Floats:
    size = _sizes(brief)[line.key.product]
    return np.asarray(np.ceil(line.net * factor * (1.0 + line.waste_share) / size - 1e-9))


def _sizes(brief: Brief) -> dict[str, float]:
    """Package sizes by product."""
    catalogue = brief.catalogue
    made = (catalogue.compound, catalogue.primer, catalogue.adhesive)
    own = {product.id: product.package.size for product in made}
    return {**own, **{item.id: item.package.size for item in catalogue.items}}


def _machines(lines: tuple[TakeoffLine, ...]) -> set[str]:
    return {line.price_code for line in lines if line.unit == "mh"}


def _hours_ratio(lines: tuple[TakeoffLine, ...], found: dict[int, Floats], machine: str) -> Floats | float:
    """Hours of a machine over what is planned."""
    rows = [place for place, line in enumerate(lines) if line.price_code == machine and place in found]
    planned = sum(lines[place].order for place in rows)
    return sum(found[place] for place in rows) / planned if planned > 0.0 else 1.0


def _part(
    brief: Brief, lines: tuple[TakeoffLine, ...], line: TakeoffLine, ratios: dict[str, Floats | float]
) -> Floats:
    """What follows the hours of machines, each by its share of them."""
    hours = {
        machine: sum(each.order for each in lines if each.price_code == machine)
        for machine in PARTS[line.key.code]
    }
    whole = sum(hours.values())
    ratio = np.asarray(sum(hours[m] * ratios.get(m, 1.0) for m in hours) / whole if whole > 0.0 else 1.0)
    return line.order * ratio if line.unit == "mh" else _packages(brief, line, ratio)


def _trips(
    brief: Brief, lines: tuple[TakeoffLine, ...], found: dict[int, Floats], drawn_days: Floats | None
) -> dict[int, Floats]:
    """Days' work by all hours, as the takeoff counts it, and the hours of the ways there."""
    at = {line.kind: place for place, line in enumerate(lines) if line.key.code == TRIP}
    if not at:
        return {}
    work = [place for place, line in enumerate(lines) if line.unit == "PH" and line.key.code != TRIP]
    hours = sum(found[place] if place in found else lines[place].order for place in work)
    planned = sum(plan.pour_days for plan in brief.plans)
    pour_days = planned if drawn_days is None else drawn_days
    trips = np.ceil(hours / brief.rates.day_ph() - 1e-9) + pour_days
    ways = {"equipment": trips, "labour": (trips - pour_days) * brief.rates.trip_ph}
    return {place: np.asarray(ways[kind], dtype=np.float64) for kind, place in at.items()}
