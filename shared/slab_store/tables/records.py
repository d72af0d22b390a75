"""What people create, list and change, and the answers kept for retries."""

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Column,
    Date,
    DateTime,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    LargeBinary,
    Numeric,
    SmallInteger,
    Table,
    Text,
    UniqueConstraint,
    Uuid,
    func,
)
from sqlalchemy.dialects.postgresql import JSONB

from slab_store.tables.metadata import metadata

_MOMENT = DateTime(timezone=True)
_OF_A_JOB = (["organisation", "job"], ["jobs.organisation", "jobs.id"])


def _who() -> tuple[Column[object], ...]:
    return (
        Column("created_at", _MOMENT, nullable=False, server_default=func.now()),
        Column("created_by", Text, nullable=False),
        Column("trace_id", Text, nullable=False, server_default=""),
    )


def _changed() -> tuple[Column[object], ...]:
    return (
        Column("version", Integer, nullable=False, server_default="1"),
        Column("updated_at", _MOMENT, nullable=False, server_default=func.now()),
        Column("updated_by", Text, nullable=False),
    )


jobs = Table(
    "jobs",
    metadata,
    Column("organisation", Uuid, ForeignKey("organisations.id"), primary_key=True),
    Column("id", Uuid, primary_key=True),
    Column("name", Text, nullable=False),
    Column("document", JSONB, nullable=False),
    *_who(),
    *_changed(),
)

rooms = Table(
    "rooms",
    metadata,
    Column("organisation", Uuid, primary_key=True),
    Column("id", Uuid, primary_key=True),
    Column("job", Uuid, nullable=False),
    Column("document", JSONB, nullable=False),
    *_who(),
    *_changed(),
    ForeignKeyConstraint(*_OF_A_JOB),
    Index("rooms_organisation_job_id_idx", "organisation", "job", "id"),
)

surveys = Table(
    "surveys",
    metadata,
    Column("organisation", Uuid, primary_key=True),
    Column("id", Uuid, primary_key=True),
    Column("job", Uuid, nullable=False),
    Column("document", JSONB, nullable=False),
    Column("state", Text, nullable=False, server_default="open"),
    Column("chunks", Integer),
    Column("closed_at", _MOMENT),
    Column("closed_by", Text),
    *_who(),
    ForeignKeyConstraint(*_OF_A_JOB),
    CheckConstraint("state IN ('open', 'closed')", name="state"),
    Index("surveys_organisation_job_id_idx", "organisation", "job", "id"),
)

survey_chunks = Table(
    "survey_chunks",
    metadata,
    Column("organisation", Uuid, primary_key=True),
    Column("survey", Uuid, primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("sha256", LargeBinary, nullable=False),
    Column("row_count", Integer, nullable=False),
    Column("json", LargeBinary, nullable=False),
    Column("arrays", LargeBinary, nullable=False),
    *_who(),
    ForeignKeyConstraint(["organisation", "survey"], ["surveys.organisation", "surveys.id"]),
    CheckConstraint("octet_length(sha256) = 32", name="sha256"),
)

scans = Table(
    "scans",
    metadata,
    Column("organisation", Uuid, primary_key=True),
    Column("id", Uuid, primary_key=True),
    Column("survey", Uuid, nullable=False),
    Column("kind", Text, nullable=False),
    Column("size_bytes", BigInteger, nullable=False),
    Column("sha256", LargeBinary, nullable=False),
    Column("document", JSONB, nullable=False),
    *_who(),
    *_changed(),
    ForeignKeyConstraint(["organisation", "survey"], ["surveys.organisation", "surveys.id"]),
    CheckConstraint("kind IN ('las', 'e57', 'ply', 'text')", name="kind"),
    CheckConstraint("octet_length(sha256) = 32", name="sha256"),
    Index("scans_organisation_survey_id_idx", "organisation", "survey", "id"),
)

firm_versions = Table(
    "firm_versions",
    metadata,
    Column("organisation", Uuid, ForeignKey("organisations.id"), primary_key=True),
    Column("id", Uuid, primary_key=True),
    Column("kind", Text, nullable=False),
    Column("document", JSONB, nullable=False),
    Column("valid_from", Date),
    Column("valid_to", Date),
    *_who(),
    CheckConstraint("kind IN ('price-book', 'catalogue', 'rates', 'calendar', 'crews')", name="kind"),
    Index("firm_versions_organisation_kind_id_idx", "organisation", "kind", "id"),
    Index("firm_versions_organisation_kind_created_at_idx", "organisation", "kind", "created_at"),
)

quotes = Table(
    "quotes",
    metadata,
    Column("organisation", Uuid, primary_key=True),
    Column("id", Uuid, primary_key=True),
    Column("number", Integer, nullable=False),
    Column("run", Uuid, nullable=False),
    Column("job_id", Uuid),
    Column("alternate", Text, nullable=False),
    Column("state", Text, nullable=False, server_default="draft"),
    Column("currency", Text, nullable=False),
    Column("total", Numeric, nullable=False),
    Column("document", LargeBinary, nullable=False),
    *_who(),
    ForeignKeyConstraint(["organisation", "run"], ["runs.organisation", "runs.id"]),
    UniqueConstraint("organisation", "number"),
    UniqueConstraint("organisation", "run", "alternate"),
    CheckConstraint("state IN ('draft', 'sent', 'accepted', 'declined', 'superseded')", name="state"),
    Index("quotes_organisation_job_id_idx", "organisation", "job_id"),
)

idempotency_keys = Table(
    "idempotency_keys",
    metadata,
    Column("organisation", Uuid, ForeignKey("organisations.id"), primary_key=True),
    Column("key", Text, primary_key=True),
    Column("fingerprint", LargeBinary, nullable=False),
    Column("status", SmallInteger, nullable=False),
    Column("headers", JSONB, nullable=False),
    Column("body", LargeBinary, nullable=False),
    Column("resource", Uuid, nullable=False),
    Column("created_at", _MOMENT, nullable=False, server_default=func.now()),
    Column("created_by", Text, nullable=False),
    CheckConstraint("octet_length(fingerprint) = 32", name="fingerprint"),
    Index("idempotency_keys_created_at_idx", "created_at"),
)
