"""Machines and their wear: dust collection, mixing days, straps, the saw, segments, bags and filters."""

from collections.abc import Iterator
from math import ceil

from slab_core.takeoff.brief import Brief
from slab_core.takeoff.codes import (
    FLOOR_GRINDER,
    FLOOR_STRAP,
    HAND_GRINDER,
    MASONRY_SAW,
    MIXING_STATION,
    VACUUM,
)
from slab_core.takeoff.entries import Effort, Supply, hours, m, plain_line
from slab_core.takeoff.items import from_item
from slab_core.takeoff.model import LineKey, TakeoffLine, Trace

STRAP_SPACING_M = 1.07
"""A strap every 3-4 ft along the rows (common practice)."""


def machine_hours(efforts: tuple[Effort, ...], *machines: str) -> float:
    """Hours of these machines over all work."""
    return sum(mh for effort in efforts for machine, mh in effort.machines if machine in machines)


def machine_lines(brief: Brief, efforts: tuple[Effort, ...]) -> Iterator[TakeoffLine]:
    """Equipment that belongs to no single task."""
    dusty = machine_hours(efforts, FLOOR_GRINDER, HAND_GRINDER, MASONRY_SAW)
    if dusty > 0:
        yield _line(
            "dust-collection", VACUUM, "Dust collector with every grinder and saw", dusty, "mh",
            "hours of all grinders and saws", {"hours": hours(dusty)},
        )  # fmt: skip
    days = sum(plan.pour_days for plan in brief.plans)
    if days:
        yield _line(
            "mixing", MIXING_STATION, "Mixing barrel, mixer and pails", float(days), "day",
            "days on which the field is poured", {"days": str(days)}, stage="correction",
        )  # fmt: skip
    longest = max((p.end_m for layout in brief.layouts for p in layout.pieces), default=0.0)
    if longest > 0:
        straps = ceil(longest / STRAP_SPACING_M - 1e-9)
        yield _line(
            "straps", FLOOR_STRAP, "Straps across the rows", float(straps), "each",
            "longest row / spacing, one set for the job",
            {"longest row": m(longest), "spacing": m(STRAP_SPACING_M)}, stage="layout",
        )  # fmt: skip


def wear(brief: Brief, efforts: tuple[Effort, ...]) -> Iterator[Supply]:
    """Parts used up by the machine-hour."""
    rates = brief.rates
    floor, hand = machine_hours(efforts, FLOOR_GRINDER), machine_hours(efforts, HAND_GRINDER)
    dusty = machine_hours(efforts, FLOOR_GRINDER, HAND_GRINDER, MASONRY_SAW)
    for item, used, lasts in (
        ("grinding-segments", floor, rates.segments_last_mh),
        ("cup-wheel", hand, rates.cup_wheel_lasts_mh),
        ("vacuum-bag", dusty, rates.vacuum_bag_lasts_mh),
        ("vacuum-filter", dusty, rates.vacuum_filter_lasts_mh),
    ):
        yield from from_item(
            brief,
            code=item,
            item=item,
            net=used / lasts,
            formula="machine-hours / what one lasts",
            inputs={"hours": hours(used), "lasts": hours(lasts)},
        )


def _line(
    code: str,
    machine: str,
    what: str,
    quantity: float,
    unit: str,
    formula: str,
    inputs: dict[str, str],
    stage: str = "takeoff",
) -> TakeoffLine:
    return plain_line(
        key=LineKey(code=code, product=machine),
        kind="equipment",
        what=what,
        quantity=quantity,
        unit=unit,
        price_code=machine,
        trace=Trace(stage=stage, formula=formula, inputs=inputs),
    )
