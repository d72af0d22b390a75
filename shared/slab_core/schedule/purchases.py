"""The purchase list: what to order, how heavy it is, and by which day it is on site and ordered."""

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from itertools import groupby

from slab_core.schedule.calendars import last_working_day, zone
from slab_core.schedule.model import Activity, Calendar, Placed, Purchase, Schedule
from slab_core.takeoff.model import Takeoff, TakeoffLine

USED_BY: dict[str, tuple[str, ...]] = {
    "containment": ("containment",),
    "moisture-probe": ("moisture-test", "moisture-retest"),
    "grinding-segments": ("grind", "bond-grind", "polish"),
    "cup-wheel": ("hand-grind", "edge-grind"),
    "screed-pin": ("pins",),
    "dam-strip": ("dams", "pour"),
    "primer": ("prime",),
    "compound": ("pour",),
    "compound-spare": ("pour",),
    "patch": ("edges", "patch", "skim", "finish"),
    "patch-bags": ("patch", "skim"),
    "finish-bags": ("finish",),
    "masonry-blade": ("undercut",),
    "boards": ("acclimation", "pre-cut", "spread"),
    "adhesive": ("spread",),
    "transition": ("transitions",),
    "base": ("trim",),
    "quarter-round": ("trim",),
    "tack-strip": ("carpet-edge",),
}
"""Kinds of work that take a material. What is not named is there when work begins: never too late."""


def purchases(
    *, takeoff: Takeoff, schedule: Schedule, calendar: Calendar, lead_days: Mapping[str, int]
) -> tuple[Purchase, ...]:
    """Every product to buy, the earliest order first.

    A product is needed on the day its first activity begins; boards when they begin to acclimate. It is
    ordered `lead_days` calendar days before, by product id (none where a product is not named), or on the
    last working day before that, as nobody orders on a Sunday; `calendar` is the one that the job is planned
    by. Nothing is listed for a plan without work.

    Raises
    ------
    InputRefused
        for a calendar of an unknown time zone.
    """
    if not schedule.placed:
        return ()
    local = zone(calendar=calendar)
    placed = tuple(zip(schedule.activities, schedule.placed, strict=True))
    bought = sorted(
        (line for line in takeoff.lines if line.kind == "material" and line.order > 0), key=_product
    )
    found = []
    for product, group in groupby(bought, key=_product):
        lines = list(group)
        first = min((_first_use(line, placed) for line in lines), key=lambda place: place.start_minute)
        needed_on = datetime.fromtimestamp(first.start_minute * 60, UTC).astimezone(local).date()
        latest = needed_on - timedelta(days=lead_days.get(product, 0))
        found.append(
            Purchase(
                product=product,
                what=lines[0].what,
                order=sum(line.order for line in lines),
                package=lines[0].package,
                weight_kg=sum(line.weight_kg for line in lines),
                first_use=first.activity,
                needed_on=needed_on,
                order_by=last_working_day(calendar=calendar, day=latest),
            )
        )
    return tuple(sorted(found, key=lambda one: (one.order_by, one.needed_on, one.product)))


def _product(line: TakeoffLine) -> str:
    return line.key.product


def _first_use(line: TakeoffLine, placed: tuple[tuple[Activity, Placed], ...]) -> Placed:
    """The first activity on the line's floor and in its phase that takes it, or else the first of all."""
    codes, key = USED_BY.get(line.key.code, ()), line.key
    users = [
        place
        for activity, place in placed
        if activity.code in codes and key.floor in ("", activity.floor) and key.phase in (0, activity.phase)
    ]
    return min(users or (place for _, place in placed), key=lambda place: place.start_minute)
