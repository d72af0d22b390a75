"""Waiting for runs to finish without holding a thread or a database connection for each who waits.

One connection per process listens to the channel on which Postgres tells of finished runs. A waiter is a
future in a dictionary. The message may be lost while the connection is being made anew, so everybody is woken
then, and looks; waking is only ever a hint to look.
"""

import asyncio
import logging
from collections import defaultdict
from contextlib import suppress
from uuid import UUID

import psycopg
from psycopg import sql

from slab_store.channels import RUN_FINISHED
from slab_store.database import IMPATIENCE

_log = logging.getLogger(__name__)

_RETRY_SECONDS = (0.1, 0.5, 1.0, 2.0, 5.0)


class FinishedRuns:
    """Tells those who wait for a run that it is time to look."""

    def __init__(self, *, url: str) -> None:
        self._url = url
        self._waiting: dict[str, set[asyncio.Event]] = defaultdict(set)
        self._listening: asyncio.Task[None] | None = None
        self._is_listening = False
        self._is_stopping = False
        self._loop: asyncio.AbstractEventLoop | None = None

    @property
    def is_listening(self) -> bool:
        """Whether the connection stands."""
        return self._is_listening

    @property
    def waiters(self) -> int:
        """How many wait at present."""
        return sum(map(len, self._waiting.values()))

    def start(self) -> None:
        """Begin to listen, in the running event loop."""
        self._loop = asyncio.get_running_loop()
        self._listening = asyncio.create_task(self._listen_for_ever(), name="finished-runs")

    def release(self) -> None:
        """Let everybody go who waits, since the process is about to end. Safe in a signal handler."""
        self._is_stopping = True
        if self._loop is not None:
            self._loop.call_soon_threadsafe(self._wake_all)

    async def stop(self) -> None:
        """End listening; whoever waits is woken."""
        self._is_stopping = True
        self._wake_all()
        if self._listening is not None:
            self._listening.cancel()
            with suppress(asyncio.CancelledError):
                await self._listening

    def ticket(self, run: UUID) -> "Ticket":
        """A place in the waiting room; use it as a context manager, and look after entering it."""
        return Ticket(waiting=self._waiting, run=str(run))

    @property
    def is_stopping(self) -> bool:
        """Whether the process is about to end, so that nobody should wait on."""
        return self._is_stopping

    async def _listen_for_ever(self) -> None:
        failures = 0
        while True:
            try:
                await self._listen()
                failures = 0
            except (psycopg.Error, OSError) as problem:
                _log.warning("listening for finished runs was interrupted: %s", type(problem).__name__)
            was_listening, self._is_listening = self._is_listening, False
            failures = 0 if was_listening else failures + 1
            await asyncio.sleep(_RETRY_SECONDS[min(failures, len(_RETRY_SECONDS) - 1)])

    async def _listen(self) -> None:
        connection = await psycopg.AsyncConnection.connect(
            self._url, autocommit=True, application_name="slabwright listen", **IMPATIENCE
        )
        async with connection:
            await connection.execute(sql.SQL("LISTEN {}").format(sql.Identifier(RUN_FINISHED)))
            self._is_listening = True
            self._wake_all()
            async for message in connection.notifies():
                for event in tuple(self._waiting.get(message.payload, ())):
                    event.set()

    def _wake_all(self) -> None:
        for events in tuple(self._waiting.values()):
            for event in tuple(events):
                event.set()


class Ticket:
    """One who waits for one run."""

    def __init__(self, *, waiting: dict[str, set[asyncio.Event]], run: str) -> None:
        self._waiting = waiting
        self._run = run
        self._event = asyncio.Event()

    def __enter__(self) -> "Ticket":
        self._waiting[self._run].add(self._event)
        return self

    def __exit__(self, *_: object) -> None:
        self._waiting[self._run].discard(self._event)
        if not self._waiting[self._run]:
            del self._waiting[self._run]

    async def woken(self, *, seconds: float) -> bool:
        """Wait to be woken; False when the time is up."""
        try:
            await asyncio.wait_for(self._event.wait(), timeout=max(0.0, seconds))
        except TimeoutError:
            return False
        self._event.clear()
        return True
