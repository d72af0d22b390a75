"""Windows of work by hand-made cases: nights, holidays and changes of the clocks."""

from datetime import date, datetime, time
from zoneinfo import ZoneInfo

import pytest

from slab_core.errors import InputRefused
from slab_core.schedule.calendars import Window, utc_minute, windows
from slab_core.schedule.model import Calendar
from slab_core.schedule.starter import calendar as starter_calendar


def _utc(*parts: int) -> int:
    return utc_minute(instant=datetime(*parts, tzinfo=ZoneInfo("UTC")))  # type: ignore[arg-type, misc]  # year to minute


def _calendar(zone: str, *shifts: tuple[int, time, time], holidays: tuple[date, ...] = ()) -> Calendar:
    return Calendar(version="hand-made", time_zone=zone, shifts=shifts, holidays=holidays)


def test_a_morning_moves_by_an_hour_in_utc_when_summer_time_begins() -> None:
    # United States 2026: clocks go from 02:00 to 03:00 on Sunday 8 March.
    calendar = starter_calendar("America/Chicago")
    found = windows(calendar=calendar, from_minute=_utc(2026, 3, 6), days=5)
    mornings = [w.start for w in found if w.day in (date(2026, 3, 6), date(2026, 3, 9))][::2]
    assert mornings == [_utc(2026, 3, 6, 14), _utc(2026, 3, 9, 13)]


@pytest.mark.parametrize(
    ("day", "minutes"),
    [
        (date(2026, 3, 7), 7 * 60),  # Saturday night into 8 March loses an hour
        (date(2026, 10, 31), 9 * 60),  # Saturday night into 1 November gains one
        (date(2026, 7, 4), 8 * 60),
    ],
)
def test_a_night_shift_has_the_hours_that_really_pass(day: date, minutes: int) -> None:
    calendar = _calendar("America/Chicago", (5, time(22), time(6)))
    start = utc_minute(instant=datetime(day.year, day.month, day.day, 12, tzinfo=ZoneInfo("America/Chicago")))
    found = windows(calendar=calendar, from_minute=start, days=1)
    assert [(w.day, w.end - w.start) for w in found if w.day == day] == [(day, minutes)]


def test_half_an_hour_of_summer_time_counts_as_half_an_hour() -> None:
    # Lord Howe Island moves by 30 minutes: back at 02:00 on Sunday 5 April 2026.
    calendar = _calendar("Australia/Lord_Howe", (6, time(1), time(4)))
    found = windows(calendar=calendar, from_minute=_utc(2026, 4, 4), days=2)
    assert [w.end - w.start for w in found] == [3 * 60 + 30]


def test_a_shift_that_begins_in_the_skipped_hour_begins_when_the_clocks_have_moved() -> None:
    calendar = _calendar("America/Chicago", (6, time(2, 30), time(5)))
    (window,) = windows(calendar=calendar, from_minute=_utc(2026, 3, 8), days=1)
    assert (window.start, window.end) == (_utc(2026, 3, 8, 8, 30), _utc(2026, 3, 8, 10))


def test_a_holiday_has_no_window_and_the_night_before_still_ends_on_it() -> None:
    calendar = _calendar("UTC", (3, time(22), time(2)), (4, time(8), time(12)), holidays=(date(2026, 1, 2),))
    found = windows(calendar=calendar, from_minute=_utc(2026, 1, 1), days=4)
    assert found == (Window(start=_utc(2026, 1, 1, 22), end=_utc(2026, 1, 2, 2), day=date(2026, 1, 1)),)


def test_a_start_in_the_middle_of_a_shift_cuts_it_and_overlapping_shifts_are_one() -> None:
    calendar = _calendar("UTC", (3, time(8), time(12)), (3, time(11), time(15)))
    found = windows(calendar=calendar, from_minute=_utc(2026, 1, 1, 9, 30), days=3)
    assert found == (Window(start=_utc(2026, 1, 1, 9, 30), end=_utc(2026, 1, 1, 15), day=date(2026, 1, 1)),)


def test_a_shift_that_runs_past_midnight_is_found_from_the_day_after() -> None:
    calendar = _calendar("UTC", (3, time(22), time(6)))
    found = windows(calendar=calendar, from_minute=_utc(2026, 1, 2, 3), days=1)
    assert found == (Window(start=_utc(2026, 1, 2, 3), end=_utc(2026, 1, 2, 6), day=date(2026, 1, 1)),)


def test_an_instant_within_a_minute_counts_from_the_next_whole_one() -> None:
    instant = datetime(2026, 1, 1, 8, 0, 30, tzinfo=ZoneInfo("UTC"))
    assert utc_minute(instant=instant) == _utc(2026, 1, 1, 8, 1)


def test_an_unknown_zone_is_refused_by_name() -> None:
    with pytest.raises(InputRefused, match="Nowhere/Land"):
        windows(calendar=_calendar("Nowhere/Land", (0, time(8), time(9))), from_minute=0, days=1)
