"""Runs, their inputs, steps and announcements, and the results that steps leave behind."""

from sqlalchemy import (
    REAL,
    BigInteger,
    CheckConstraint,
    Column,
    DateTime,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    LargeBinary,
    SmallInteger,
    Table,
    Text,
    Uuid,
    func,
    text,
)
from sqlalchemy.dialects.postgresql import ARRAY, DOUBLE_PRECISION, JSONB

from slab_store.tables.metadata import metadata

_MOMENT = DateTime(timezone=True)
_DIGEST_LENGTH = "octet_length(digest) = 32"

runs = Table(
    "runs",
    metadata,
    Column("organisation", Uuid, ForeignKey("organisations.id"), primary_key=True),
    Column("id", Uuid, primary_key=True),
    Column("job_id", Uuid),
    Column("kind", Text, nullable=False, server_default="estimate"),
    Column("state", Text, nullable=False, server_default="queued"),
    Column("seed", BigInteger, nullable=False),
    Column("posted_at", _MOMENT, nullable=False),
    Column("actor", Text, nullable=False),
    Column("trace_id", Text, nullable=False, server_default=""),
    Column("started_at", _MOMENT),
    Column("finished_at", _MOMENT),
    Column("problems", JSONB, nullable=False, server_default="[]"),
    Column("cancel_requested_at", _MOMENT),
    Column("cancel_requested_by", Text),
    Column("alternates", JSONB, nullable=False, server_default="[]"),
    CheckConstraint(
        "state IN ('queued', 'running', 'completed', 'refused', 'failed', 'cancelled')", name="state"
    ),
    Index("runs_organisation_job_id_id_idx", "organisation", "job_id", "id"),
)

run_inputs = Table(
    "run_inputs",
    metadata,
    Column("organisation", Uuid, primary_key=True),
    Column("run", Uuid, primary_key=True),
    Column("json", LargeBinary, nullable=False),
    Column("arrays", LargeBinary, nullable=False),
    ForeignKeyConstraint(["organisation", "run"], ["runs.organisation", "runs.id"]),
)

run_steps = Table(
    "run_steps",
    metadata,
    Column("organisation", Uuid, primary_key=True),
    Column("run", Uuid, primary_key=True),
    Column("ordinal", SmallInteger, primary_key=True),
    Column("stage", Text, nullable=False),
    Column("subject", Text, nullable=False),
    Column("alternate", Text, nullable=False),
    Column("version", SmallInteger, nullable=False),
    Column("queue", Text, nullable=False),
    Column("needs", ARRAY(SmallInteger), nullable=False),
    Column("pending", SmallInteger, nullable=False),
    Column("state", Text, nullable=False),
    Column("fence", BigInteger, nullable=False, server_default="0"),
    Column("attempts", SmallInteger, nullable=False, server_default="0"),
    Column("retry_at", _MOMENT),
    Column("lease_until", _MOMENT),
    Column("worker", Text),
    Column("progress", REAL),
    Column("digest", LargeBinary),
    Column("started_at", _MOMENT),
    Column("finished_at", _MOMENT),
    Column("ms", DOUBLE_PRECISION),
    Column("error", JSONB),
    ForeignKeyConstraint(["organisation", "run"], ["runs.organisation", "runs.id"]),
    CheckConstraint(
        "state IN ('waiting', 'ready', 'claimed', 'done', 'skipped', 'failed', 'parked')", name="state"
    ),
    CheckConstraint("queue IN ('light', 'heavy')", name="queue"),
    CheckConstraint(_DIGEST_LENGTH, name="digest"),
    Index(
        "run_steps_ready_idx",
        "queue",
        "organisation",
        "run",
        "ordinal",
        postgresql_where=text("state = 'ready'"),
    ),
    Index("run_steps_claimed_idx", "organisation", "lease_until", postgresql_where=text("state = 'claimed'")),
    # Rows change state several times each; room on the page keeps their new versions near.
    postgresql_with={"fillfactor": "70"},
)

outbox = Table(
    "outbox",
    metadata,
    Column("organisation", Uuid, primary_key=True),
    Column("id", Uuid, primary_key=True),
    Column("queue", Text, nullable=False),
    Column("run", Uuid, nullable=False),
    Column("created_at", _MOMENT, nullable=False, server_default=func.now()),
    Column("published_at", _MOMENT),
    CheckConstraint("queue IN ('light', 'heavy')", name="queue"),
    Index("outbox_unpublished_idx", "id", postgresql_where=text("published_at IS NULL")),
)

queue_turns = Table(
    "queue_turns",
    metadata,
    Column("organisation", Uuid, primary_key=True),
    Column("queue", Text, primary_key=True),
    Column("served_at", _MOMENT, nullable=False),
)

stage_results = Table(
    "stage_results",
    metadata,
    Column("organisation", Uuid, ForeignKey("organisations.id"), primary_key=True),
    Column("digest", LargeBinary, primary_key=True),
    Column("stage", Text, nullable=False),
    Column("schema", SmallInteger, nullable=False),
    Column("summary", LargeBinary, nullable=False),
    Column("arrays", LargeBinary, nullable=False),
    Column("problems", JSONB, nullable=False, server_default="[]"),
    Column("quote", LargeBinary),
    Column("created_at", _MOMENT, nullable=False, server_default=func.now()),
    Column("last_used_at", _MOMENT, nullable=False, server_default=func.now()),
    CheckConstraint(_DIGEST_LENGTH, name="digest"),
    Index("stage_results_organisation_last_used_at_idx", "organisation", "last_used_at"),
)
