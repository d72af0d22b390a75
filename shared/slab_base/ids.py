"""Record identifiers: UUID version 7 (RFC 9562), so that they sort by the time they were made."""

import secrets
import threading
import time
from datetime import UTC, datetime, timedelta
from uuid import UUID

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_lock = threading.Lock()
_last_tick = 0


class InvalidIdError(ValueError):
    """The text is not a UUID in its canonical form."""


def new_id() -> UUID:
    """A new UUIDv7; within one process each is greater than the one before, even inside a millisecond."""
    tick = _next_tick()
    return uuid7(milliseconds=tick >> 12, fraction=tick & 0xFFF, random=secrets.randbits(62))


def uuid7(*, milliseconds: int, fraction: int, random: int) -> UUID:
    """Put a UUIDv7 together from its three parts.

    `milliseconds` since 1970 (48 bits), `fraction` of a millisecond (12 bits, RFC 9562 section 6.2 method 3),
    `random` (62 bits). Raises ValueError when a part has more bits than its field.
    """
    for name, value, bits in (
        ("milliseconds", milliseconds, 48),
        ("fraction", fraction, 12),
        ("random", random, 62),
    ):
        if not 0 <= value < 1 << bits:
            raise ValueError(f"{name} must be from 0 to 2**{bits} - 1, not {value}")
    return UUID(int=milliseconds << 80 | 0x7 << 76 | fraction << 64 | 0b10 << 62 | random)


def parse_id(text: str) -> UUID:
    """Read the canonical form (8-4-4-4-12 hexadecimal digits); any version, as clients may make their own.

    Raises InvalidIdError for anything else, also for the braces and `urn:uuid:` that Python alone would
    accept: two spellings of one id would defeat an idempotency key.
    """
    try:
        value = UUID(text)
    except ValueError:
        value = None
    if value is None or str(value) != text.lower():
        raise InvalidIdError(f"{text[:60]!r} is not a UUID such as 01890a5d-ac96-774b-bcce-b302099a8057")
    return value


def made_at(*, value: UUID) -> datetime:
    """When a UUIDv7 was made (UTC, to the millisecond). Raises InvalidIdError for another version."""
    if value.version != 7:
        raise InvalidIdError(f"{value} is a UUID of version {value.version}; only version 7 carries a time")
    return _EPOCH + timedelta(milliseconds=value.int >> 80)


def _next_tick() -> int:
    """Milliseconds and 12 bits of fraction as one number, never the same twice."""
    global _last_tick
    now = (time.time_ns() << 12) // 1_000_000
    with _lock:
        _last_tick = max(now, _last_tick + 1)
        return _last_tick
