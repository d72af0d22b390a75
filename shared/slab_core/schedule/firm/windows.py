"""When a crew can work at a site: in its shifts less the way there and back, when the site is open."""

from __future__ import annotations

from itertools import groupby

from slab_core.schedule.calendars import Window, windows
from slab_core.schedule.firm.model import Crew, Site


def crew_windows(*, crew: Crew, from_minute: int, days: int) -> tuple[Window, ...]:
    """The crew's own shifts."""
    return windows(calendar=crew.calendar, from_minute=from_minute, days=days)


def site_windows(*, site: Site, from_minute: int, days: int) -> tuple[Window, ...] | None:
    """The site's hours without its blocked days; None where it is never closed."""
    if site.allowed is None:
        return None
    open_hours = windows(calendar=site.allowed, from_minute=from_minute, days=days)
    return tuple(window for window in open_hours if window.day not in site.blocked)


def at_site(
    *,
    shifts: tuple[Window, ...],
    hours: tuple[Window, ...] | None,
    blocked: frozenset[int],
    there: int,
    back: int,
) -> tuple[Window, ...]:
    """The stretches in which the crew can be at work there, each with the day of the crew's shift.

    The way there is gone after the day's first shift begins, the way back before its last one ends. `blocked`
    are ordinals of the crew's days on which a site without hours of its own is closed.
    """
    found: list[Window] = []
    for day, group in groupby(shifts, key=lambda window: window.day):
        own = list(group)
        if day.toordinal() in blocked:
            continue
        begin, end = own[0].start + there, own[-1].end - back
        found += [
            Window(start=max(w.start, begin), end=min(w.end, end), day=day)
            for w in own
            if max(w.start, begin) < min(w.end, end)
        ]
    return tuple(found) if hours is None else _both(tuple(found), hours)


def _both(shifts: tuple[Window, ...], hours: tuple[Window, ...]) -> tuple[Window, ...]:
    """What two lists in order have in common."""
    found, first = list[Window](), 0
    for shift in shifts:
        while first < len(hours) and hours[first].end <= shift.start:
            first += 1
        at = first
        while at < len(hours) and hours[at].start < shift.end:
            start, end = max(shift.start, hours[at].start), min(shift.end, hours[at].end)
            found.append(Window(start=start, end=end, day=shift.day))
            at += 1
    return tuple(found)
