"""Ctrl-C and SIGTERM end the launcher in good order, once."""

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType


class Interrupted(BaseException):
    """Someone asked the launcher to end; no error, so that no `except Exception` swallows it."""


class _Hold:
    """Whether an interruption has to wait, and the one that waits."""

    depth = 0
    waiting: Interrupted | None = None


@contextmanager
def undisturbed() -> Iterator[None]:
    """Interrupted comes at the end of the block, not in it: a child that was begun has to be known first."""
    _Hold.depth += 1
    try:
        yield
    finally:
        _Hold.depth -= 1
        waiting = _Hold.waiting
        if waiting is not None and _Hold.depth == 0:
            _Hold.waiting = None
            raise waiting


@contextmanager
def interruptible() -> Iterator[None]:
    """Raise Interrupted in the block at the first Ctrl-C, SIGTERM or SIGHUP; further ones are ignored."""
    wanted = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)

    def handle(number: int, frame: FrameType | None) -> None:
        for other in wanted:
            signal.signal(other, signal.SIG_IGN)
        asked = Interrupted(signal.Signals(number).name)
        if _Hold.depth > 0:
            _Hold.waiting = asked
            return
        raise asked

    before = {number: signal.signal(number, handle) for number in wanted}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
