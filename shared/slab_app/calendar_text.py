"""Events as an iCalendar object (RFC 5545), for calendars that people subscribe to."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime

MEDIA_TYPE = "text/calendar"
_PRODUCT = "-//Slabwright//schedule//EN"
_MOST_OCTETS = 75
_NO_EVENTS = (
    "BEGIN:VTIMEZONE",
    "TZID:Etc/UTC",
    "BEGIN:STANDARD",
    "DTSTART:19700101T000000",
    "TZOFFSETFROM:+0000",
    "TZOFFSETTO:+0000",
    "END:STANDARD",
    "END:VTIMEZONE",
)
"""Section 3.6: a calendar has at least one component, whether anything happens or not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One stretch of work; `uid` stays the same when it is moved, and when it is `cancelled`. Starts and ends
    are UTC minutes."""

    uid: str
    start_minute: int
    end_minute: int
    summary: str
    description: str = ""
    location: str = ""
    cancelled: bool = False


def calendar_text(*, name: str, events: tuple[Event, ...], stamp: datetime, sequence: int = 0) -> bytes:
    """The calendar in UTF-8. `stamp` is when its content was decided, `sequence` (RFC 5545, 3.8.7.4) is
    higher whenever an event may have changed since it was last told."""
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{_PRODUCT}", "METHOD:PUBLISH"]
    lines.append(f"NAME:{_text(name)}")  # RFC 7986
    for event in events:
        lines += _event(event, stamp=stamp, sequence=sequence)
    if not events:
        lines += _NO_EVENTS
    lines.append("END:VCALENDAR")
    return "".join(f"{part}\r\n" for line in lines for part in _folded(line)).encode()


def _event(event: Event, *, stamp: datetime, sequence: int) -> Iterator[str]:
    yield "BEGIN:VEVENT"
    yield f"UID:{_text(event.uid)}"
    yield f"DTSTAMP:{_moment(stamp)}"
    yield f"DTSTART:{_moment(datetime.fromtimestamp(event.start_minute * 60, UTC))}"
    yield f"DTEND:{_moment(datetime.fromtimestamp(event.end_minute * 60, UTC))}"
    yield f"SEQUENCE:{sequence}"
    if event.cancelled:
        yield "STATUS:CANCELLED"
    yield f"SUMMARY:{_text(event.summary)}"
    if event.description:
        yield f"DESCRIPTION:{_text(event.description)}"
    if event.location:
        yield f"LOCATION:{_text(event.location)}"
    yield "END:VEVENT"


def _moment(value: datetime) -> str:
    return f"{value.astimezone(UTC):%Y%m%dT%H%M%SZ}"


def _text(value: str) -> str:
    """Section 3.3.11: backslash, semicolon, comma and the end of a line are written with a backslash. Other
    control characters, which the format cannot hold, become spaces."""
    for plain, written in (("\\", "\\\\"), (";", "\\;"), (",", "\\,"), ("\r\n", "\\n"), ("\n", "\\n")):
        value = value.replace(plain, written)
    return "".join(" " if ord(letter) < 32 or ord(letter) == 127 else letter for letter in value)


def _folded(line: str) -> Iterator[str]:
    """Section 3.1: no line has more than 75 octets; a folded one goes on after a space."""
    head, octets = "", 0
    for letter in line:
        size = len(letter.encode())
        if octets + size > _MOST_OCTETS:
            yield head
            head, octets = " ", 1
        head, octets = head + letter, octets + size
    yield head
