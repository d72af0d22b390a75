"""Runs: posted in one transaction with their input, their steps and the announcement."""

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields
from datetime import datetime
from typing import Any, Literal
from uuid import UUID

import msgspec

from slab_base.ids import new_id
from slab_core.stages import StepSpec
from slab_store.alternates import AlternateSummary, RunProblem
from slab_store.channels import OUTBOX
from slab_store.endings import skip_rest, tell_finished
from slab_store.rows import insert_new
from slab_store.session import TenantSession
from slab_store.statement import text

RunKind = Literal["estimate", "firm-schedule"]
RunState = Literal["queued", "running", "completed", "refused", "failed", "cancelled"]
StepState = Literal["waiting", "ready", "claimed", "done", "skipped", "failed", "parked"]


@dataclass(frozen=True, slots=True, kw_only=True)
class NewRun:
    """A run to post. `id` may be a client's; `actor` and `trace_id` say who asked and in which request."""

    id: UUID
    seed: int
    posted_at: datetime
    actor: str
    trace_id: str = ""
    job_id: UUID | None = None
    kind: RunKind = "estimate"


@dataclass(frozen=True, slots=True, kw_only=True)
class RunInput:
    """The canonical job as it was posted; it never changes."""

    json: bytes
    arrays: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A run as stored. `problems` are those of all its results, or why it ended early; `alternates` are those
    that have been priced or refused, in that order."""

    id: UUID
    job_id: UUID | None
    kind: str
    state: RunState
    seed: int
    posted_at: datetime
    actor: str
    trace_id: str
    started_at: datetime | None
    finished_at: datetime | None
    problems: tuple[RunProblem, ...]
    cancel_requested_at: datetime | None
    cancel_requested_by: str | None
    alternates: tuple[AlternateSummary, ...] = ()

    @property
    def is_over(self) -> bool:
        """Nothing about the run will change any more."""
        return self.state not in ("queued", "running")


@dataclass(frozen=True, slots=True, kw_only=True)
class RunStep:
    """One step of a run, as a client may watch it. `ms` is how long it took, 0 for a result found stored;
    `progress` how far it was when its worker last told, from 0 to 1."""

    ordinal: int
    stage: str
    subject: str
    alternate: str
    version: int
    state: StepState
    attempts: int
    digest: bytes | None
    started_at: datetime | None
    finished_at: datetime | None
    ms: float | None
    progress: float | None
    error: dict[str, str] | None


def _columns(shape: type) -> str:
    return ", ".join(field.name for field in fields(shape))


# One statement for all that a run consists of, whatever the number of its steps: one round trip, and Postgres
# keeps its plan. The steps are one text, which is made and read far quicker than an array for each column.
_POST = text(f"""
    WITH posted AS (
      INSERT INTO runs (organisation, id, job_id, kind, seed, posted_at, actor, trace_id)
      VALUES (:organisation, :id, :job_id, :kind, :seed, :posted_at, :actor, :trace_id)
    ),
    given AS (
      INSERT INTO run_inputs (organisation, run, json, arrays) VALUES (:organisation, :id, :json, :arrays)
    ),
    announced AS (
      INSERT INTO outbox (organisation, id, queue, run)
      SELECT :organisation, bell.id, bell.queue, :id
      FROM unnest(CAST(:bells AS uuid[]), CAST(:bell_queues AS text[])) AS bell (id, queue),
        LATERAL (SELECT pg_notify('{OUTBOX}', bell.queue)) AS told
    )
    INSERT INTO run_steps
      (organisation, run, ordinal, stage, subject, alternate, version, queue, needs, pending, state)
    SELECT :organisation, :id, ordinality - 1, stage, subject, alternate, version, queue, needs,
      cardinality(needs), CASE cardinality(needs) WHEN 0 THEN 'ready' ELSE 'waiting' END
    FROM ROWS FROM (json_to_recordset(CAST(:steps AS json)) AS
      (stage text, subject text, alternate text, version smallint, queue text, needs smallint[])
    ) WITH ORDINALITY
""")
_GET = text(f"SELECT {_columns(Run)} FROM runs WHERE organisation = :organisation AND id = :run")
_LIST = text(f"""
    SELECT {_columns(Run)} FROM runs
    WHERE organisation = :organisation AND kind = :kind
      AND (CAST(:job AS uuid) IS NULL OR job_id = :job)
      AND (CAST(:before AS uuid) IS NULL OR id < :before)
    ORDER BY id DESC LIMIT :limit
""")
_INPUT = text("SELECT json, arrays FROM run_inputs WHERE organisation = :organisation AND run = :run")
_STEPS = text(f"""
    SELECT {_columns(RunStep)} FROM run_steps WHERE organisation = :organisation AND run = :run
    ORDER BY ordinal
""")
_ADD_ALTERNATE = text("""
    UPDATE runs SET alternates = alternates || jsonb_build_array(CAST(:summary AS jsonb))
    WHERE organisation = :organisation AND id = :run
""")
_CANCEL = text("""
    UPDATE runs SET state = 'cancelled', cancel_requested_at = now(), cancel_requested_by = :actor,
      finished_at = now()
    WHERE organisation = :organisation AND id = :run AND state IN ('queued', 'running')
""")


class Runs:
    """The runs of one organisation."""

    def __init__(self, session: TenantSession) -> None:
        self._session = session

    def post(self, *, run: NewRun, run_input: RunInput, steps: Sequence[StepSpec]) -> None:
        """Write the run, its input, its steps and one announcement. Raises AlreadyExists for a known id.

        Raises ValueError when a step does not come after what it needs.
        """
        _check_order(steps)
        queues = sorted({step.queue for step in steps if not step.needs})
        insert_new(
            self._session,
            _POST,
            table="runs",
            record=run.id,
            with_tables=("run_inputs", "run_steps"),
            **{field.name: getattr(run, field.name) for field in fields(NewRun)},
            json=run_input.json,
            arrays=run_input.arrays,
            bells=[new_id() for _ in queues],
            bell_queues=queues,
            steps=msgspec.json.encode(steps).decode(),
        )

    def get(self, *, run_id: UUID) -> Run | None:
        """The run, or None if the organisation has none with this id."""
        row = self._session.execute(_GET, run=run_id).one_or_none()
        return _run(row) if row else None

    def list(
        self,
        *,
        limit: int,
        before: UUID | None = None,
        job_id: UUID | None = None,
        kind: RunKind = "estimate",
    ) -> tuple[Run, ...]:
        """Runs of a kind from the highest id down (UUIDv7: newest first), below `before`, of one job if it is
        given."""
        rows = self._session.execute(_LIST, limit=limit, before=before, job=job_id, kind=kind)
        return tuple(_run(row) for row in rows)

    def input(self, *, run_id: UUID) -> RunInput | None:
        """The canonical job that the run was posted with."""
        row = self._session.execute(_INPUT, run=run_id).one_or_none()
        return RunInput(**row) if row else None

    def steps(self, *, run_id: UUID) -> tuple[RunStep, ...]:
        """All steps of the run in the order of the plan."""
        rows = self._session.execute(_STEPS, run=run_id)
        return tuple(RunStep(**row) for row in rows)

    def add_alternate(self, *, run_id: UUID, summary: AlternateSummary) -> None:
        """Note what an alternate comes to; the caller has just finished its last step."""
        self._session.execute(_ADD_ALTERNATE, run=run_id, summary=json.dumps(asdict(summary)))

    def cancel(self, *, run_id: UUID, actor: str) -> bool:
        """End the run now; False if it is over already or there is none.

        A step being computed loses its lease, so its worker stops at the next renewal.
        """
        if self._session.execute(_CANCEL, run=run_id, actor=actor).rowcount == 0:
            return False
        skip_rest(self._session, run_id=run_id)
        tell_finished(self._session, run_id=run_id)
        return True


def _check_order(steps: Sequence[StepSpec]) -> None:
    for ordinal, step in enumerate(steps):
        if any(not 0 <= need < ordinal for need in step.needs):
            raise ValueError(f"step {ordinal} ({step.stage}) needs a step that does not come before it")
    if not steps:
        raise ValueError("a run needs at least one step")


def _run(row: Any) -> Run:
    return Run(
        **{
            **row,
            "problems": tuple(RunProblem(**problem) for problem in row["problems"]),
            "alternates": tuple(AlternateSummary(**alternate) for alternate in row["alternates"]),
        }
    )
