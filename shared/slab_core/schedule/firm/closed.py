"""Why nobody may work at a site for a while, in words: nights, the site's hours, closed days and holidays."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from slab_core.schedule.calendars import zone
from slab_core.schedule.firm.arrays import Arrays
from slab_core.schedule.firm.model import Crew, Site
from slab_core.schedule.firm.windows import at_site, crew_windows

_DAY = 1440


def closed(*, arrays: Arrays, crew: int, place: int, begin: int, end: int) -> str:
    """What keeps a crew from a site from one UTC minute until another, with the days that would else be
    worked."""
    who, site = arrays.firm.crews[crew], arrays.firm.sites[place]
    days = [*_blocked(who, site, begin, end), *_holidays(who, begin, end)]
    base = "the site's hours" if _could_come(arrays, crew, place, begin, end) else "the crew's next shift"
    return f"{base} ({'; '.join(days)})" if days else base


def _could_come(arrays: Arrays, crew: int, place: int, begin: int, end: int) -> bool:
    """Whether the crew could be there sooner but for the hours in which the site is open."""
    if arrays.firm.sites[place].allowed is None:
        return False
    home, travel = int(arrays.facts[8][crew]), arrays.facts[6]
    shifts = crew_windows(
        crew=arrays.firm.crews[crew], from_minute=begin - 2 * _DAY, days=(end - begin) // _DAY + 4
    )
    there, back = int(travel[home, place]), int(travel[place, home])
    found = at_site(shifts=shifts, hours=None, blocked=frozenset(), there=there, back=back)
    return any(max(window.start, begin) < min(window.end, end) for window in found)


def _days(crew: Crew, begin: int, end: int) -> list[date]:
    """Days of the crew's weekdays that the stretch touches."""
    local = zone(calendar=crew.calendar)
    first, last = (datetime.fromtimestamp(m * 60, UTC).astimezone(local).date() for m in (begin, end))
    weekdays = {weekday for weekday, _, _ in crew.calendar.shifts}
    days = (first + timedelta(days=n) for n in range((last - first).days + 1))
    return [day for day in days if day.weekday() in weekdays]


def _blocked(crew: Crew, site: Site, begin: int, end: int) -> list[str]:
    shut = [f"{day:%a %Y-%m-%d}" for day in _days(crew, begin, end) if day in site.blocked]
    return [f"the customer lets nobody in on {' and '.join(shut)}"] if shut else []


def _holidays(crew: Crew, begin: int, end: int) -> list[str]:
    free = crew.calendar.holidays
    return [f"{day:%a %Y-%m-%d} is a holiday" for day in _days(crew, begin, end) if day in free]
