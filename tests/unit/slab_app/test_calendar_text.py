"""Calendars that another library reads as they were meant: texts, instants, long lines."""

from datetime import UTC, datetime

import icalendar
from hypothesis import given
from hypothesis import strategies as st

from slab_app.calendar_text import Event, calendar_text

STAMP = datetime(2026, 3, 2, 6, tzinfo=UTC)
MINUTE = 29_500_000
TEXT = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Zl", "Zp")), min_size=1, max_size=200)


def _event(**changes: object) -> Event:
    plain = {"uid": "a@b", "start_minute": MINUTE, "end_minute": MINUTE + 90, "summary": "pour"}
    return Event(**(plain | changes))  # type: ignore[arg-type]  # fields of the event


@given(TEXT, TEXT, TEXT)
def test_any_text_comes_back_as_it_was(summary: str, description: str, location: str) -> None:
    event = _event(summary=summary, description=description, location=location)
    written = calendar_text(name=summary, events=(event,), stamp=STAMP)
    read = icalendar.Calendar.from_ical(written)
    (found,) = read.walk("VEVENT")
    assert (str(found["SUMMARY"]), str(found["DESCRIPTION"]), str(found["LOCATION"])) == (
        summary,
        description,
        location,
    )


def test_a_calendar_without_events_has_a_component_all_the_same() -> None:
    read = icalendar.Calendar.from_ical(calendar_text(name="north", events=(), stamp=STAMP))
    assert read.walk("VEVENT") == []
    assert [part.name for part in read.subcomponents] == ["VTIMEZONE"]


def test_what_is_cancelled_says_so_and_nothing_else_does() -> None:
    events = (_event(), _event(uid="c@d", cancelled=True))
    read = icalendar.Calendar.from_ical(calendar_text(name="north", events=events, stamp=STAMP, sequence=4))
    kept, gone = read.walk("VEVENT")
    assert "STATUS" not in kept
    assert (str(gone["STATUS"]), gone["SEQUENCE"], gone["UID"]) == ("CANCELLED", 4, "c@d")


def test_instants_sequence_and_uid_come_back() -> None:
    read = icalendar.Calendar.from_ical(
        calendar_text(name="north", events=(_event(),), stamp=STAMP, sequence=3)
    )
    (found,) = read.walk("VEVENT")
    assert found["DTSTART"].dt == datetime.fromtimestamp(MINUTE * 60, UTC)
    assert found["DTEND"].dt == datetime.fromtimestamp((MINUTE + 90) * 60, UTC)
    assert (found["DTSTAMP"].dt, found["SEQUENCE"], found["UID"]) == (STAMP, 3, "a@b")
    assert (str(read["VERSION"]), str(read["NAME"])) == ("2.0", "north")
    assert read["PRODID"]


@given(TEXT)
def test_no_line_has_more_than_75_octets_and_each_ends_as_it_must(summary: str) -> None:
    written = calendar_text(name="north", events=(_event(summary=summary),), stamp=STAMP)
    lines = written.split(b"\r\n")
    assert lines[-1] == b""
    assert all(len(line) <= 75 and b"\n" not in line and b"\r" not in line for line in lines)


def test_ends_of_lines_in_a_text_are_kept_and_no_line_can_be_smuggled_in() -> None:
    event = _event(summary="pour\r\nEND:VEVENT\nBEGIN:VEVENT\x00")
    read = icalendar.Calendar.from_ical(calendar_text(name="north", events=(event,), stamp=STAMP))
    (found,) = read.walk("VEVENT")
    assert str(found["SUMMARY"]) == "pour\nEND:VEVENT\nBEGIN:VEVENT "
