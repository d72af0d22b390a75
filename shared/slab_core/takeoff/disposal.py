"""What is carted away, by weight, and the trips to the site."""

from collections.abc import Iterator
from math import ceil

from slab_core.takeoff.brief import Brief
from slab_core.takeoff.codes import DISPOSAL, LABOUR, TRIP
from slab_core.takeoff.entries import Effort, hours, m, m2, plain_line, rate
from slab_core.takeoff.model import LineKey, TakeoffLine, Trace
from slab_core.units.conversions import CUBIC_METRES_PER_CUBIC_FOOT as FOOT3_M3
from slab_core.units.conversions import KILOGRAMS_PER_POUND as POUND_KG

CONCRETE_KG_PER_M3 = 145 * POUND_KG / FOOT3_M3
"""A ground cubic foot is about 145 lb (common practice)."""

BASE_KG_PER_M = 0.7
"""Old base (from memory)."""


def disposal_lines(brief: Brief) -> Iterator[TakeoffLine]:
    """The old floor by area, old base that is not put back, and what was ground off for height."""
    scope = brief.scope
    if scope.removal != "none" and "tear-out" not in brief.finished:
        each = brief.rates.removal_kg_per_m2[scope.removal]
        for area in brief.areas:
            yield _line(
                key=LineKey(code="removal", floor=area.floor, phase=area.phase),
                what="Old floor carted away",
                kg=area.m2 * each,
                formula="floor × weight",
                inputs={"floor": m2(area.m2), "removal": scope.removal, "weight": rate(each, "kg a m²")},
                stage="rooms",
            )
    if scope.base_off and scope.base_new and "base-off" not in brief.finished:
        wall = sum(area.wall_m for area in brief.areas)
        yield _line(
            key=LineKey(code="old-base"),
            what="Old base carted away",
            kg=wall * BASE_KG_PER_M,
            formula="wall × weight",
            inputs={"wall": m(wall), "weight": rate(BASE_KG_PER_M, "kg a m")},
            stage="rooms",
        )
    ground = sum(area.ground_m3 for area in brief.areas)
    if ground > 0:
        yield _line(
            key=LineKey(code="grinding-dust"),
            what="Concrete ground off",
            kg=ground * CONCRETE_KG_PER_M3,
            formula="volume × 145 lb a ft³",
            inputs={"volume": f"{ground * 1000:.2f} L"},
            stage="correction",
        )


def _line(
    *, key: LineKey, what: str, kg: float, formula: str, inputs: dict[str, str], stage: str
) -> TakeoffLine:
    return plain_line(
        key=key,
        kind="disposal",
        what=what,
        quantity=kg,
        unit="kg",
        price_code=DISPOSAL,
        trace=Trace(stage=stage, formula=formula, inputs=inputs),
    )


def trip_lines(brief: Brief, efforts: tuple[Effort, ...]) -> Iterator[TakeoffLine]:
    """Ways to the site: a day's work each, and a return after every pour, which dries over a night.

    The hours of a pour day hold its own way, so those are not counted again.
    """
    work = sum(effort.person_hours for effort in efforts)
    pour_days = sum(plan.pour_days for plan in brief.plans)
    trips = ceil(work / brief.rates.day_ph() - 1e-9) + pour_days
    inputs = {
        "work": hours(work),
        "people": str(brief.rates.people),
        "hours a day": hours(brief.rates.hours_per_day),
        "pour days": str(pour_days),
    }
    trace = Trace(stage="takeoff", formula="⌈work / (people × hours a day)⌉ + pour days", inputs=inputs)
    yield plain_line(
        key=LineKey(code="trip", product=TRIP),
        kind="equipment",
        what="Vehicle to the site and back",
        quantity=float(trips),
        unit="each",
        price_code=TRIP,
        trace=trace,
    )
    per_trip = Trace(
        stage="takeoff",
        formula="(trips - pour days) × hours of a trip; the hours of a pour day hold its own",
        inputs={"trips": str(trips), "pour days": str(pour_days), "hours": hours(brief.rates.trip_ph)},
    )
    yield plain_line(
        key=LineKey(code="trip"),
        kind="labour",
        what="On the way",
        quantity=(trips - pour_days) * brief.rates.trip_ph,
        unit="PH",
        price_code=LABOUR,
        trace=per_trip,
    )
