"""Safety texts, shown where the work calls for them."""

from collections.abc import Iterator

import numpy as np
import shapely

from slab_core.errors import Problem
from slab_core.materials.hazards_model import Hazard
from slab_core.rooms.model import KeepOut, KeepOutReason
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.codes import FLOOR_GRINDER
from slab_core.takeoff.entries import Effort
from slab_core.takeoff.machines import machine_hours
from slab_core.takeoff.prepare import makes_dust
from slab_core.takeoff.slab_rules import used

FIRST = "Local codes, product data sheets and licensed practice come first."

PRESUMED_UP_TO = 1980
"""Flooring and mastic in buildings up to this year are presumed to contain asbestos: 29 CFR 1926.1101
and an OSHA letter of 1 August 1997."""

_SLAB = {
    "tendons": "The slab has tendons under tension: no grinding and no drilling. A cut tendon can kill.",
    "heating-pipes": "The slab has heating pipes: no grinding and no drilling. Shut the heating off "
    "and let the slab "
    "cool before priming, pouring and gluing.",
    "membrane": "The slab has a membrane: no grinding and no drilling through it.",
}


_ZONES: dict[KeepOutReason, str] = {
    "tendons": "A cut tendon can kill.",
    "heating-pipes": "Shut the heating off and let the slab cool before priming, pouring and gluing.",
}
"""What else is said of keep-out zones, by their reason."""

_IN_SLAB = frozenset({"tendons", "heating-pipes", "membrane"})


_HAZARDS: dict[Hazard, str] = {
    "wet-cement": "Wet compound is alkaline and burns skin and eyes; its powder holds silica. Gloves, "
    "goggles, a dust mask when bags are emptied, water at hand, and no slurry into drains.",
    "isocyanates": "Moisture-cure urethane adhesives give off isocyanates, which can sensitise for life: "
    "ventilate, wear gloves, keep people with asthma away, and read the safety data sheet of the adhesive "
    "used.",
    "epoxy": "Epoxy resins and hardeners can make skin allergic for life: gloves that the safety data sheet "
    "names, long sleeves, ventilation, and no solvent to clean skin.",
}
"""Of products; common practice and their safety data sheets, from memory."""


def cautions(*, brief: Brief, efforts: tuple[Effort, ...]) -> tuple[Problem, ...]:
    """Cautions for this job's work, each with the line on what comes first."""
    texts = (*_dust(brief, efforts), *_old_floor(brief), *_products(brief), *_slab(brief), *_zones(brief))
    return tuple(
        Problem(code=f"caution-{code}", detail=f"{text} {FIRST}", severity="caution") for code, text in texts
    )


def _dust(brief: Brief, efforts: tuple[Effort, ...]) -> Iterator[tuple[str, str]]:
    if makes_dust(brief) or any(effort.code == "undercut" for effort in efforts):
        yield (
            "silica",
            "Grinding and sawing concrete or masonry sets free respirable silica. OSHA limits it to "
            "50 µg/m³ over a "
            "shift, with action from 25. Hand grinders: shroud and collector of at least 25 cfm per "
            "inch of wheel, "
            "filter of 99 % or better that is cleaned as it runs; indoors over 4 hours a shift also "
            "a respirator of "
            "factor 10. Floor grinders: the maker's collector or water, and loose dust vacuumed "
            "(HEPA) between "
            "passes (29 CFR 1926.1153, table 1).",
        )
    if machine_hours(efforts, FLOOR_GRINDER) > 0:
        yield (
            "power",
            "Large grinders and their collectors take three or four circuits, often 220-240 V: check "
            "receptacle, "
            "breaker and cord before the day, use ground-fault protection, and mind that water "
            "raises the risk of "
            "shock.",
        )


def _old_floor(brief: Brief) -> Iterator[tuple[str, str]]:
    year = brief.site.built_year
    if brief.scope.removal == "none" or (year is not None and year > PRESUMED_UP_TO):
        return
    age = f"was built in {year}" if year is not None else "is of unknown age"
    yield (
        "asbestos",
        f"The building {age}. Vinyl or asphalt flooring and mastic in buildings up to "
        f"{PRESUMED_UP_TO} are presumed to "
        "contain asbestos until a test shows otherwise: no sanding, grinding, dry scraping or dry "
        "sweeping before "
        "the result, and removal by licensed people (29 CFR 1926.1101). A second floor may be hidden "
        "under the "
        "first.",
    )


def _products(brief: Brief) -> Iterator[tuple[str, str]]:
    found = {hazard for product in used(brief) for hazard in product.hazards}
    yield from ((hazard, text) for hazard, text in _HAZARDS.items() if hazard in found)


def _slab(brief: Brief) -> Iterator[tuple[str, str]]:
    for what in brief.site.slab_has:
        yield what, _SLAB[what]


def _zones(brief: Brief) -> Iterator[tuple[str, str]]:
    """One text for each reason. Pins, tests and fasteners are what a crew would drill for."""
    by_reason: dict[KeepOutReason, list[tuple[str, KeepOut]]] = {}
    for room, zone in brief.keep_outs():
        by_reason.setdefault(zone.reason, []).append((room, zone))
    for reason, zones in by_reason.items():
        why = "" if reason == "other" else f" ({reason.replace('-', ' ')})"
        named = "; ".join(
            f"“{zone.id}” in {room}{'' if zone.fills else ', nothing filled either'}" for room, zone in zones
        )
        pins = _pins_in(brief, zones=[zone for _, zone in zones])
        standing = f" {pins} of the pins set out stand there." if pins else ""
        yield (
            reason if reason in _IN_SLAB else "keep-out",
            f"Keep-out zones{why}, {named}: no grinding and no drilling there. Mark them on the slab before "
            "work begins. Screed pins in them are glued on or moved out, not drilled or screwed in."
            f"{standing} No moisture test and no fastener goes into them. {_ZONES.get(reason, '')}".rstrip(),
        )


def _pins_in(brief: Brief, *, zones: list[KeepOut]) -> int:
    """How many pins of the plans stand in the zones."""
    shape = shapely.union_all([shapely.Polygon(zone.outline) for zone in zones])
    pins = [pin.at for area in brief.areas for pour in area.pours for pin in pour.pins]
    return int(shapely.covers(shape, shapely.points(np.reshape(pins, (-1, 2)))).sum())
