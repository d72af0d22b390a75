"""How the worker takes a bell off the broker."""

import logging
from typing import Any

from celery.worker.request import Request

_log = logging.getLogger(__name__)


class StrictRequest(Request):  # type: ignore[misc]  # celery ships no types
    """A request whose failed acknowledgement ends the connection, as it ought to.

    Celery logs such a failure and goes on. The message then stays counted as in hand, and with a prefetch of
    one the worker never asks for another: connected, alive and deaf. Raised, the error makes the consumer
    connect again with nothing in hand. No bell that is lost or rung twice by this does harm.
    """

    acknowledged: bool

    def acknowledge(self) -> None:
        """Take the message off the broker. Raises the transport's error when that fails."""
        self._settle(self._on_ack)

    def reject(self, requeue: bool = False) -> None:
        """Give the message back. Raises the transport's error when that fails."""
        self._settle(self._on_reject, requeue)

    def _settle(self, settle: Any, *details: bool) -> None:
        if not self.acknowledged:
            # The empty tuple: no kind of error is to be logged and forgotten.
            settle(_log, (), *details)
            self.acknowledged = True
