"""Ctrl-C and SIGTERM end the launcher in good order, once."""

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType


class Interrupted(BaseException):
    """Someone asked the launcher to end; no error, so that no `except Exception` swallows it."""


@contextmanager
def interruptible() -> Iterator[None]:
    """Raise Interrupted in the block at the first Ctrl-C, SIGTERM or SIGHUP; further ones are ignored."""
    wanted = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)

    def handle(number: int, frame: FrameType | None) -> None:
        for other in wanted:
            signal.signal(other, signal.SIG_IGN)
        raise Interrupted(signal.Signals(number).name)

    before = {number: signal.signal(number, handle) for number in wanted}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
