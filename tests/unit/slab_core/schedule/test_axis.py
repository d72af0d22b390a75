"""Worked slots and UTC minutes are the same time told twice."""

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from slab_core.schedule.axis import SLOT_MINUTES, axis_of
from slab_core.schedule.calendars import Window


def _windows(lengths: list[tuple[int, int]]) -> tuple[Window, ...]:
    made, at = [], 1000
    for n, (gap, length) in enumerate(lengths):
        made.append(
            Window(start=at + gap, end=at + gap + length, day=date(2026, 1, 1) + timedelta(days=n // 2))
        )
        at += gap + length
    return tuple(made)


LENGTHS = st.lists(st.tuples(st.integers(1, 2000), st.integers(9, 500)), min_size=1, max_size=8)


@given(LENGTHS, st.data())
def test_a_slot_is_the_first_one_at_or_after_its_own_start(
    lengths: list[tuple[int, int]], data: st.DataObject
) -> None:
    windows = _windows(lengths)
    axis = axis_of(windows=windows)
    whole = sum(w.end // SLOT_MINUTES - -(-w.start // SLOT_MINUTES) for w in windows)
    assert axis.slots == whole
    slot = data.draw(st.integers(0, axis.slots - 1))
    minute = axis.start_minute(slot)
    assert axis.slot_from(minute) == slot
    assert axis.slot_from(minute + 1) == slot + 1
    assert axis.end_minute(slot + 1) == minute + SLOT_MINUTES
    assert any(w.start <= minute and minute + SLOT_MINUTES <= w.end for w in windows)


def test_work_that_fills_a_day_ends_that_evening_and_not_next_morning() -> None:
    axis = axis_of(windows=_windows([(0, 60), (30, 60), (600, 60)]))
    assert axis.end_minute(24) == 1000 + 150
    assert axis.start_minute(24) == 1000 + 750
    assert (axis.day_of(23), axis.day_of(24)) == (0, 1)
    assert axis.day_last == (24, 36)
    assert axis.slot_from(1000 + 151) == 24
    assert axis.longest_day() == 24
