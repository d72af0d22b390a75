"""`python -m slab_worker.relay`: ring a bell for each announcement, and sweep up what nobody heard.

Any number of relays may run. Rings are never lost: an announcement is marked as published after the broker
took it, and rung again if the relay died between the two. A bell too many finds nothing to do.
"""

import logging
import signal
import sys
import threading
import time
from types import FrameType

import psycopg

from slab_base.logs import configure_logging
from slab_base.setting_fields import SettingError
from slab_base.settings import Settings, load_settings
from slab_store.channels import OUTBOX
from slab_store.database import Database
from slab_store.errors import StoreError
from slab_worker.app import make_app
from slab_worker.bells import Bells, BrokerUnavailable
from slab_worker.sweeper import Sweeper

_log = logging.getLogger(__name__)

BATCH = 200
# The relay looks by itself this often, should a notification be lost with its connection.
LOOK_SECONDS = 1.0
PAUSE_SECONDS = 0.5


class Relay:
    """Publishes announcements as they are committed; sweeps now and then."""

    def __init__(self, *, database: Database, listen_url: str, bells: Bells, sweeper: Sweeper) -> None:
        self._database = database
        self._listen_url = listen_url
        self._bells = bells
        self._sweeper = sweeper
        self._stopping = threading.Event()

    def stop(self) -> None:
        """End `run` after the batch at hand."""
        self._stopping.set()

    def run(self) -> None:
        """Work until stopped, whatever becomes of broker and database meanwhile."""
        while not self._stopping.is_set():
            try:
                with psycopg.connect(self._listen_url, autocommit=True, connect_timeout=5) as ear:
                    ear.execute(f"LISTEN {OUTBOX}")
                    self._work(ear)
            except (StoreError, psycopg.OperationalError, BrokerUnavailable) as problem:
                _log.warning("the relay pauses: %s", problem)
                self._stopping.wait(PAUSE_SECONDS)

    def publish(self) -> int:
        """Ring for the oldest announcements and mark them; how many there were."""
        with self._database.for_queue() as uow:
            announcements = uow.queue.unpublished(limit=BATCH)
            for announcement in announcements:
                self._bells.ring(queue=announcement.queue)
            if announcements:
                uow.queue.mark_published(ids=[announcement.id for announcement in announcements])
                uow.commit()
        return len(announcements)

    def _work(self, ear: psycopg.Connection) -> None:
        while not self._stopping.is_set():
            while self.publish() == BATCH and not self._stopping.is_set():
                pass
            self._sweeper.sweep_if_due(now=time.monotonic())
            for _ in ear.notifies(timeout=LOOK_SECONDS, stop_after=1):
                pass


def main() -> int:
    """Start the relay; the answer is the exit code."""
    configure_logging()
    try:
        settings = load_settings()
        configure_logging(level=settings.log_level)
        relay = _relay(settings)
    except SettingError as problem:
        _log.error("%s", problem)
        return 2

    def stop(_number: int, _frame: FrameType | None) -> None:
        relay.stop()

    signal.signal(signal.SIGTERM, stop)
    signal.signal(signal.SIGINT, stop)
    _log.info("the relay is listening")
    relay.run()
    return 0


def _relay(settings: Settings) -> Relay:
    database = Database(
        application_url=settings.need("queue_database_url"),
        queue_url=settings.need("queue_database_url"),
        pool_size=2,
        name="slabwright relay",
    )
    bells = Bells(app=make_app(settings=settings))
    return Relay(
        database=database,
        # LISTEN needs a connection of its own past any pooler.
        listen_url=settings.direct_database_url or settings.need("queue_database_url"),
        bells=bells,
        sweeper=Sweeper(
            database=database,
            bells=bells,
            every_seconds=settings.sweep_seconds,
            keep_answers_hours=settings.keep_answers_hours,
        ),
    )


if __name__ == "__main__":
    sys.exit(main())
