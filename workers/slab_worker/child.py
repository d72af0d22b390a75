"""A process of the worker's pool: its bench, made after the fork, and the turns it takes."""

import logging
import mmap
import os
import secrets
import socket

from slab_app.work.bench import Bench
from slab_app.work.hooks import ON_FINISHED
from slab_app.work.lease import LeaseKeeper
from slab_app.work.ports import Engine
from slab_app.work.steps import take_turn
from slab_base.settings import Settings
from slab_core.stages import VERSIONS
from slab_store.database import Database
from slab_store.errors import DatabaseUnavailable
from slab_store.queue import Renewal

_log = logging.getLogger(__name__)

LEFT_BEHIND = 70
"""Exit code of a child that left because its step was no longer its own."""

# Short, so that the other queue is heard soon.
ANSWER_SECONDS = 2.0

# Made in the parent: its children know each other's claims by it, and nobody else's.
_group = f"{socket.gethostname()}/{secrets.token_hex(4)}/"
# One byte that parent and children share: the parent sets it when the worker is asked to end.
_leaving = mmap.mmap(-1, 1)
_bench: Bench | None = None


def announce_leaving() -> None:
    """In the parent: children finish the step at work and take no other."""
    _leaving[0] = 1


def is_leaving() -> bool:
    """In a child: whether the worker was asked to end."""
    return _leaving[0] != 0


def open_bench(*, settings: Settings, engine: Engine) -> None:
    """In a fresh child: connect and start the lease keeper. Nothing of this may be shared with the parent."""
    global _bench
    database = Database(
        application_url=settings.need("database_url"),
        queue_url=settings.need("queue_database_url"),
        pool_size=3,
        name="slabwright worker",
    )
    _release_dead_siblings(database)
    open_files = getattr(engine, "open_files", None)
    if open_files is not None:
        # As long as a step may still take at the end of a turn, less what goes on around the reading.
        open_files(folder=settings.storage_dir.absolute(), most_seconds=settings.soft_limit_seconds * 0.7)
    keeper = LeaseKeeper(database=database, lease_seconds=settings.lease_seconds, on_lost=_leave)
    _bench = Bench(
        database=database,
        engine=engine,
        keeper=keeper,
        known=VERSIONS,
        worker=f"{_group}{os.getpid()}",
        lease_seconds=settings.lease_seconds,
        max_attempts=settings.max_attempts,
        on_finished=getattr(engine, "on_finished", ON_FINISHED),
        # One step may then still take three quarters of what a task may take.
        turn_seconds=settings.soft_limit_seconds / 4,
        leaving=is_leaving,
    )


def _release_dead_siblings(database: Database) -> None:
    """Free what a killed child of this worker held, as this process is likely to take its place.

    The lease would run out anyhow; this saves waiting for it. A sweep then rings for the steps.
    """
    try:
        with database.for_queue() as uow:
            gone = [worker for worker in uow.queue.holders(group=_group) if not _is_alive(worker)]
            if gone:
                freed = uow.queue.release_held_by(workers=gone)
                uow.commit()
                _log.warning("%d steps freed of %s", freed, ", ".join(gone))
    except DatabaseUnavailable as problem:
        _log.warning("could not look for steps of dead children: %s", problem)


def _is_alive(worker: str) -> bool:
    """Whether the child of this name runs. A fresh process cannot hold steps: its number was used before."""
    pid = int(worker.removeprefix(_group))
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return pid != os.getpid()


def answer_bell(*, queue: str) -> None:
    """Take turns on `queue` until nothing is left or some seconds are over.

    Going on makes good for bells that were lost. While Postgres is away nothing can be done; the sweeper
    rings again later.
    """
    if _bench is None:
        raise RuntimeError("this process was not prepared for work")
    ends = _bench.clock() + ANSWER_SECONDS
    try:
        while take_turn(bench=_bench, queue=queue) and not is_leaving() and _bench.clock() < ends:
            pass
    except DatabaseUnavailable as problem:
        _log.warning("turn ended: %s", problem)


def _leave(renewal: Renewal) -> None:
    """End the process in the middle of whatever it computes: nobody wants the result."""
    _log.warning("leaving, as the step at work was %s", renewal)
    logging.shutdown()
    os._exit(LEFT_BEHIND)
