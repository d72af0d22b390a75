"""What has to be seen to before work goes on: hold points, and what to order by when."""

from collections.abc import Iterator, Sequence
from datetime import date, datetime
from itertools import groupby
from typing import Any
from zoneinfo import ZoneInfo

from slab_core.units.conversions import pounds
from slab_local.demo.table import heading, table, wrapped

Json = dict[str, Any]


def holds(found: Sequence[Json], *, time_zone: str) -> Iterator[str]:
    """Each hold with its rules and sources, by when it is due; rules that ask the same are told once."""
    if not found:
        return
    yield heading("Hold points: work waits for these")

    def asked(hold: Json) -> tuple[str, str, str]:
        return hold["by_at"], hold["who"], hold["what"]

    for (by, who, what), rules in groupby(sorted(found, key=asked), key=asked):
        moment = datetime.fromisoformat(by).astimezone(ZoneInfo(time_zone))
        because = "; ".join(f"{hold['rule']} ({hold['source']})" for hold in rules)
        yield wrapped(f"{moment:%a %d %b %H:%M}, {who}: {what}. Rule: {because}")


def purchases(found: Sequence[Json]) -> Iterator[str]:
    """The purchase list, the earliest order first, and what it weighs."""
    if not found:
        return
    yield heading("To order")
    rows = [
        (
            _day(one["order_by"]),
            _day(one["needed_on"]),
            f"{one['order']:g}",
            one["package"],
            f"{pounds(one['weight_kg']):.0f}" if one["weight_kg"] else "",
            one["what"],
        )
        for one in found
    ]
    yield table(head=("by", "needed", "", "", "lb", "what"), rows=rows, right=frozenset({2, 4}))
    yield f"  {pounds(sum(one['weight_kg'] for one in found)):.0f} lb in all"


def _day(text: str) -> str:
    return f"{date.fromisoformat(text):%a %d %b}"
