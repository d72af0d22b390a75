"""A worker in the test's own process: the real step loop and the real maths, without a broker."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

import psycopg

from slab_app.work.bench import Bench
from slab_app.work.engine import Engine
from slab_app.work.hooks import ON_FINISHED
from slab_app.work.lease import LeaseKeeper
from slab_app.work.steps import take_turn
from slab_base.tasks import QUEUES
from slab_core.stages import VERSIONS
from slab_store.database import Database
from slab_store.queue import Renewal
from tests.support.databases import FreshDatabase


@contextmanager
def own_worker(urls: FreshDatabase, *, files: Path | None = None) -> Iterator["OwnWorker"]:
    """Works off what is posted, when it is asked to; `files` is the folder of stored files."""
    engine = Engine()
    if files is not None:
        engine.open_files(folder=files, most_seconds=120.0)
    database = Database(
        application_url=urls.app_url, queue_url=urls.queue_url, pool_size=3, name="test worker"
    )
    keeper = LeaseKeeper(database=database, lease_seconds=30, on_lost=_lost)
    bench = Bench(
        database=database,
        engine=engine,
        keeper=keeper,
        known=VERSIONS,
        worker="test:0",
        lease_seconds=30,
        max_attempts=1,
        on_finished=ON_FINISHED,
    )
    try:
        yield OwnWorker(bench)
    finally:
        keeper.close()
        database.close()


def _lost(renewal: Renewal) -> None:
    raise AssertionError(f"the step is no longer ours: {renewal}")


def drop_left_over(urls: FreshDatabase, *, before: datetime) -> None:
    """Cancel what was posted before an instant and is not over: nobody looks at it any more."""
    database = Database(application_url=urls.app_url, pool_size=1, name="test worker")
    with psycopg.connect(urls.migration_url) as owner:
        left = owner.execute(
            "SELECT DISTINCT run.organisation, run.id FROM runs AS run"
            " JOIN run_steps AS step ON step.run = run.id WHERE step.state = 'ready' AND run.posted_at < %s",
            (before,),
        ).fetchall()
    for organisation, run in left:
        with database.for_organisation(organisation) as uow:
            uow.runs.cancel(run_id=run, actor="test worker")
            uow.commit()
    database.close()


class OwnWorker:
    """Takes turns until nothing is left to do."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench

    def work_off(self) -> int:
        """Do all there is to do; the number of steps taken."""
        total = 0
        while taken := sum(take_turn(bench=self._bench, queue=queue) for queue in QUEUES):
            total += taken
        return total
