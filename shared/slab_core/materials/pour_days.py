"""On which day each pour is poured when a crew places only so many bags a day.

The plan counts its days with this, the takeoff its set-ups, and the schedule cuts by it what is too
long for a day, so that all three say the same number.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

LEAST_PART_SHARE = 0.25
"""A bay too long for a day is not begun for less than this share of a day's bags (from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """So many bags of one pour on one day, counted from 0."""

    day: int
    bags: int


def by_day(*, bags: Sequence[int], per_day: int) -> tuple[tuple[Share, ...], ...]:
    """For each pour, one after the other, the days it is poured on.

    A pour is not cut where it fits into a day: it waits for the next one if today's bags do not reach. A
    longer one is stopped with a dam where the day's bags run out. Common practice, no single source.

    Raises
    ------
    ValueError
        when a day takes no bag at all.
    """
    if per_day < 1:
        raise ValueError(f"{per_day} bags a day")
    found: list[tuple[Share, ...]] = []
    day, left = -1, 0
    for count in bags:
        shares: list[Share] = []
        rest = count
        while rest > 0:
            if left < _least(rest, count, per_day):
                day, left = day + 1, per_day
            shares.append(Share(day=day, bags=min(rest, left)))
            left -= shares[-1].bags
            rest -= shares[-1].bags
        found.append(tuple(shares))
    return tuple(found)


def day_count(*, bags: Sequence[int], per_day: int) -> int:
    """Days that pours, one after the other, take."""
    if 0 < sum(bags) <= per_day:  # asked for every plane that is tried
        return 1
    shares = by_day(bags=bags, per_day=per_day)
    return max((share.day for several in shares for share in several), default=-1) + 1


def _least(rest: int, count: int, per_day: int) -> int:
    """What today must still hold for the pour to go on today."""
    return rest if count <= per_day else min(rest, ceil(LEAST_PART_SHARE * per_day))
