"""The one place that reads the system clock; everything else takes a `Clock` or a time."""

from datetime import UTC, datetime
from typing import Protocol


class Clock(Protocol):
    """Anything that can say what time it is; tests pass one that stands still."""

    def now(self) -> datetime:
        """The present moment, with time zone UTC."""
        ...


class SystemClock:
    """The machine's own clock."""

    def now(self) -> datetime:
        """The present moment, with time zone UTC."""
        return now_utc()


def now_utc() -> datetime:
    """The present moment, with time zone UTC."""
    return datetime.now(UTC)
