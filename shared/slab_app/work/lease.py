"""Renewal of the lease of the step at work, from a thread beside it."""

import logging
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from slab_store.claims import ClaimedStep
from slab_store.database import Database
from slab_store.errors import StoreError
from slab_store.queue import Renewal

_log = logging.getLogger(__name__)

# Cancelling must be felt within 5 s whatever the lease is.
LONGEST_INTERVAL_SECONDS = 1.5
GRACE_SECONDS = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """`stop()` says whether the computation should end; `tell` takes how much of it is done, from 0 to 1,
    which is noted with the next renewal."""

    stop: Callable[[], bool]
    tell: Callable[[float], None]


class LeaseKeeper:
    """One thread that renews whatever step is held.

    `on_lost` is called when the step at work belongs to someone else, or its run was cancelled and the
    computation did not end within a grace period. In a worker it ends the process: a computation cannot be
    stopped from outside, and nobody wants its result.
    """

    def __init__(
        self, *, database: Database, lease_seconds: float, on_lost: Callable[[Renewal], None]
    ) -> None:
        self._database = database
        self._lease_seconds = lease_seconds
        self._interval = min(lease_seconds / 3, LONGEST_INTERVAL_SECONDS)
        self._on_lost = on_lost
        self._held: ClaimedStep | None = None
        self._progress: float | None = None
        self._stopped = threading.Event()
        self._closed = threading.Event()
        self._thread = threading.Thread(target=self._run, name="lease-keeper", daemon=True)
        self._thread.start()

    @contextmanager
    def holding(self, step: ClaimedStep) -> Iterator["Hold"]:
        """Renew `step` inside the block."""
        self._stopped.clear()
        self._progress = None
        self._held = step
        try:
            yield Hold(stop=self._stopped.is_set, tell=self._tell)
        finally:
            self._held = None

    def close(self) -> None:
        """End the thread."""
        self._closed.set()
        self._thread.join()

    def _tell(self, share: float) -> None:
        self._progress = min(1.0, max(0.0, share))

    def _run(self) -> None:
        while not self._closed.wait(self._interval):
            step = self._held
            if step is None:
                continue
            renewal = self._renew(step)
            if renewal == "cancelled":
                self._wait_for_end(step)
            # The block may have been left meanwhile; a refusal is then of no interest.
            if renewal != "held" and self._held is step:
                _log.warning("lease %s", renewal, extra={"run": str(step.run), "stage": step.spec.stage})
                self._on_lost(renewal)
                self._held = None

    def _renew(self, step: ClaimedStep) -> Renewal:
        try:
            with self._database.for_queue() as uow:
                renewal = uow.queue.renew(step, lease_seconds=self._lease_seconds, progress=self._progress)
                uow.commit()
                return renewal
        except StoreError as problem:
            # Nobody is overtaken unnoticed by not reaching Postgres: the fence decides at the end.
            _log.warning("lease not renewed: %s", problem, extra={"run": str(step.run)})
            return "held"

    def _wait_for_end(self, step: ClaimedStep) -> None:
        self._stopped.set()
        end = time.monotonic() + GRACE_SECONDS
        while self._held is step and time.monotonic() < end:
            time.sleep(0.05)
