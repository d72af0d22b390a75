"""Finds steps that nobody holds and rings for them, whatever the broker has lost."""

import logging

from slab_base.tasks import QUEUES
from slab_store.database import Database
from slab_worker.bells import Bells

_log = logging.getLogger(__name__)

# More bells than this in one sweep would only fill the broker: each worker that hears one goes on by itself.
MOST_BELLS = 50
PURGE_EVERY = 60
MOST_FORGOTTEN = 2000
KEEP_PUBLISHED_SECONDS = 3600.0


class Sweeper:
    """Frees steps whose lease ran out, and tops the broker's bells up to the number of runnable steps."""

    def __init__(
        self, *, database: Database, bells: Bells, every_seconds: float, keep_answers_hours: int = 72
    ) -> None:
        self._database = database
        self._bells = bells
        self._every_seconds = every_seconds
        self._keep_answers_hours = keep_answers_hours
        self._due = 0.0
        self._sweeps = 0

    def sweep_if_due(self, *, now: float) -> bool:
        """Sweep unless the last sweep was less than the interval ago. `now` in seconds of any clock."""
        if now < self._due:
            return False
        self._due = now + self._every_seconds
        self.sweep()
        return True

    def sweep(self) -> int:
        """One sweep; how many bells it rang. Raises BrokerUnavailable or DatabaseUnavailable."""
        with self._database.for_queue() as uow:
            freed = uow.queue.release_expired()
            runnable = {queue: uow.queue.runnable(queue=queue, limit=MOST_BELLS) for queue in QUEUES}
            if self._sweeps % PURGE_EVERY == 0:
                uow.queue.purge_published(older_than_seconds=KEEP_PUBLISHED_SECONDS)
            uow.queue.forget_answers(older_than_hours=self._keep_answers_hours, limit=MOST_FORGOTTEN)
            uow.commit()
        self._sweeps += 1
        if freed:
            _log.warning("%d steps had lost their worker", freed)
        return sum(self._top_up(queue, count) for queue, count in runnable.items() if count)

    def _top_up(self, queue: str, runnable: int) -> int:
        missing = max(0, runnable - self._bells.waiting(queue=queue))
        for _ in range(missing):
            self._bells.ring(queue=queue)
        return missing
