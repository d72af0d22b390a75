"""The only place that publishes to the broker."""

from celery import Celery
from kombu.connection import Connection
from kombu.exceptions import ChannelError, OperationalError

from slab_base.tasks import doorbell
from slab_worker.app import broker_queue

_NO_RETRIES = {"max_retries": 0, "interval_start": 0}


class BrokerUnavailable(Exception):
    """The broker did not take a bell, or did not say how many it holds."""


class Bells:
    """Rings bells, and counts those that nobody has heard yet."""

    def __init__(self, *, app: Celery) -> None:
        self._app = app
        # Whoever rings decides itself when to try again; kombu would go on for seconds on its own.
        app.conf.broker_transport_options = {**app.conf.broker_transport_options, **_NO_RETRIES}

    def ring(self, *, queue: str) -> None:
        """Put one bell into the broker. Raises BrokerUnavailable; nothing is tried again here."""
        try:
            self._app.send_task(
                doorbell(queue=queue), queue=broker_queue(queue=queue), retry=False, ignore_result=True
            )
        except (OperationalError, OSError) as problem:
            raise BrokerUnavailable(f"the broker took no bell: {problem}") from problem

    def waiting(self, *, queue: str) -> int:
        """How many bells the broker holds for `queue`; 0 for a queue it does not know (yet, or any more)."""
        connection: Connection = self._app.connection_for_write()
        # The transport's own errors differ by broker.
        unknown: tuple[type[Exception], ...] = (ChannelError, *connection.channel_errors)
        away: tuple[type[Exception], ...] = (OperationalError, OSError, *connection.connection_errors)
        try:
            with connection, connection.channel() as channel:  # type: ignore[no-untyped-call]  # kombu ships none
                declared = channel.queue_declare(broker_queue(queue=queue), passive=True)
                return int(declared.message_count)
        except away as problem:
            raise BrokerUnavailable(f"the broker does not answer: {problem}") from problem
        except unknown:
            return 0
