"""Work is cut where nobody is there."""

from datetime import date

from slab_core.schedule.calendars import Window
from slab_core.schedule.stretches import days_of

MONDAY, TUESDAY = date(2026, 3, 2), date(2026, 3, 3)
SHIFTS = (
    Window(start=0, end=240, day=MONDAY),
    Window(start=270, end=540, day=MONDAY),
    Window(start=1440, end=1680, day=TUESDAY),
    Window(start=1710, end=1980, day=TUESDAY),
)


def test_a_span_over_a_night_is_two_days_with_their_breaks_left_in() -> None:
    assert days_of(start_minute=100, end_minute=1800, windows=SHIFTS) == ((100, 540), (1440, 1800))


def test_a_span_within_a_shift_stays_whole() -> None:
    assert days_of(start_minute=300, end_minute=400, windows=SHIFTS) == ((300, 400),)


def test_a_span_that_ends_when_a_shift_begins_has_no_part_in_it() -> None:
    assert days_of(start_minute=300, end_minute=1440, windows=SHIFTS) == ((300, 540),)


def test_a_span_outside_all_shifts_is_told_as_it_is() -> None:
    assert days_of(start_minute=600, end_minute=700, windows=SHIFTS) == ((600, 700),)
