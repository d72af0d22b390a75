"""Local shifts and holidays compiled into windows of UTC minutes."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from slab_core.errors import refuse
from slab_core.schedule.model import Calendar

MINUTES_PER_DAY = 1440


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """One stretch of work: UTC minutes since 1970, end excluded, and the local date it began on."""

    start: int
    end: int
    day: date


def utc_minute(*, instant: datetime) -> int:
    """The first whole UTC minute that is not before an instant.

    Raises
    ------
    InputRefused
        when the instant carries no offset from UTC.
    """
    if instant.tzinfo is None:
        raise refuse(
            code="time-without-zone",
            detail=f"{instant.isoformat()} has no offset from UTC; write it as in 2026-03-02T08:00+00:00",
            pointer="/earliest_start",
        )
    return -int(-instant.timestamp() // 60)


def zone(*, calendar: Calendar) -> ZoneInfo:
    """The calendar's time zone.

    Raises
    ------
    InputRefused
        when no such zone is known.
    """
    try:
        return ZoneInfo(calendar.time_zone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise refuse(
            code="time-zone-unknown",
            detail=f"{calendar.time_zone!r} is not a time zone of the IANA list, such as America/Chicago",
            pointer="/calendar/time_zone",
        ) from None


def windows(*, calendar: Calendar, from_minute: int, days: int) -> tuple[Window, ...]:
    """Every window of work from an instant on, over so many local days, in order and merged.

    A shift that ends at or before its start runs over midnight and belongs to the date it began on.
    A local time that a change of the clocks skips counts as if the clocks had not changed yet.

    Raises
    ------
    InputRefused
        when the time zone is unknown or the calendar has no shift at all.
    """
    local = zone(calendar=calendar)
    if not calendar.shifts:
        raise refuse(code="calendar-empty", detail="the calendar has no shift", pointer="/calendar/shifts")
    first = datetime.fromtimestamp(from_minute * 60, tz=local).date() - timedelta(days=1)
    dates = (first + timedelta(days=n) for n in range(days + 2))
    raw = [w for day in dates if day not in calendar.holidays for w in _of_day(calendar, day, local)]
    cut = [Window(start=max(w.start, from_minute), end=w.end, day=w.day) for w in raw if w.end > from_minute]
    return _merged(sorted(cut, key=lambda w: (w.start, w.end)))


def last_working_day(*, calendar: Calendar, day: date) -> date:
    """The latest day up to `day` on which a shift begins; the calendar has at least one shift."""
    return _nearest_working_day(calendar, day, timedelta(days=-1))


def first_working_day(*, calendar: Calendar, day: date) -> date:
    """The earliest day from `day` on on which a shift begins; the calendar has at least one shift."""
    return _nearest_working_day(calendar, day, timedelta(days=1))


def _nearest_working_day(calendar: Calendar, day: date, step: timedelta) -> date:
    weekdays = {weekday for weekday, _, _ in calendar.shifts}
    while day.weekday() not in weekdays or day in calendar.holidays:
        day += step
    return day


def _of_day(calendar: Calendar, day: date, local: ZoneInfo) -> list[Window]:
    made = []
    for weekday, start, end in calendar.shifts:
        if weekday == day.weekday():
            last = day if end > start else day + timedelta(days=1)
            made.append(Window(start=_minute(day, start, local), end=_minute(last, end, local), day=day))
    return [w for w in made if w.end > w.start]


def _minute(day: date, at: time, local: ZoneInfo) -> int:
    return int(datetime.combine(day, at, tzinfo=local).astimezone(UTC).timestamp()) // 60


def _merged(found: list[Window]) -> tuple[Window, ...]:
    merged: list[Window] = []
    for window in found:
        if merged and window.start <= merged[-1].end:
            last = merged.pop()
            window = Window(start=last.start, end=max(last.end, window.end), day=last.day)
        merged.append(window)
    return tuple(merged)
