"""Posting runs in tests, and claiming and finishing their steps by hand."""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from slab_base.ids import new_id
from slab_core.stages import BY_NAME, StepSpec, plan_steps
from slab_store.claims import ClaimedStep
from slab_store.database import Database
from slab_store.results import StoredResult
from slab_store.runs import NewRun, Run, RunInput, RunStep
from tests.support.databases import FreshDatabase

KNOWN = {stage.name: stage.version for stage in BY_NAME.values()}
ONE_FLOOR = plan_steps(floor_ids=("ground",))


@dataclass(frozen=True, kw_only=True)
class Firm:
    """An organisation in a test database, with short ways to post and to look."""

    database: Database
    id: UUID

    def post(
        self, *, steps: Sequence[StepSpec] = ONE_FLOOR, run_id: UUID | None = None, **order: Any
    ) -> UUID:
        """Post a run; `order` is the job's JSON, as the toy engine reads it."""
        run = NewRun(
            id=run_id or new_id(), seed=7, posted_at=datetime.now(UTC), actor="test", trace_id="trace-1"
        )
        order.setdefault("salt", str(run.id))
        run_input = RunInput(json=json.dumps(order).encode(), arrays=b"")
        with self.database.for_organisation(self.id) as uow:
            uow.runs.post(run=run, run_input=run_input, steps=steps)
            uow.commit()
        return run.id

    def run(self, run_id: UUID) -> Run:
        """The run as it is now."""
        with self.database.for_organisation(self.id) as uow:
            run = uow.runs.get(run_id=run_id)
        assert run is not None
        return run

    def steps(self, run_id: UUID) -> tuple[RunStep, ...]:
        """The run's steps as they are now."""
        with self.database.for_organisation(self.id) as uow:
            return uow.runs.steps(run_id=run_id)

    def cancel(self, run_id: UUID) -> bool:
        """Cancel the run."""
        with self.database.for_organisation(self.id) as uow:
            done = uow.runs.cancel(run_id=run_id, actor="test")
            uow.commit()
        return done

    def finish(self, step: ClaimedStep, *, refused: bool = False) -> None:
        """Store a result for a claimed step and finish it."""
        digest = hashlib.sha256(f"{step.run}{step.ordinal}".encode()).digest()
        result = StoredResult(digest=digest, stage=step.spec.stage, schema=1, summary=b"{}", arrays=b"")
        with self.database.for_organisation(self.id) as uow:
            uow.results.add(result)
            uow.steps.finish(step, digest=digest, ms=1.0, refused=refused)
            uow.commit()

    def finish_run(self, run_id: UUID) -> None:
        """Take and finish steps of the queue until this run is over; no other run may be waiting."""
        while not self.run(run_id).is_over:
            step = claim(self.database)
            assert step is not None
            self.finish(step)


def open_database(fresh: FreshDatabase) -> Database:
    """Both doors to a test's database."""
    return Database(application_url=fresh.app_url, queue_url=fresh.queue_url)


def found_firm(database: Database, *, name: str = "Test firm") -> Firm:
    """A new organisation."""
    firm = Firm(database=database, id=new_id())
    with database.for_organisation(firm.id) as uow:
        uow.organisations.add(name=name)
        uow.commit()
    return firm


def claim(database: Database, *, lease_seconds: float = 30, queue: str = "light") -> ClaimedStep | None:
    """The next step, as a worker would take it."""
    with database.for_queue() as uow:
        step = uow.queue.claim(queue=queue, known=KNOWN, lease_seconds=lease_seconds, worker="test")
        uow.commit()
    return step
