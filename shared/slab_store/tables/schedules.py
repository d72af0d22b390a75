"""Schedules of the firm that are in force, and crews' links to them."""

from sqlalchemy import (
    CheckConstraint,
    Column,
    DateTime,
    ForeignKey,
    ForeignKeyConstraint,
    Integer,
    LargeBinary,
    Table,
    Text,
    Uuid,
)

from slab_store.tables.metadata import metadata

_MOMENT = DateTime(timezone=True)

published_schedules = Table(
    "published_schedules",
    metadata,
    Column("organisation", Uuid, primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("run", Uuid, nullable=False),
    Column("published_at", _MOMENT, nullable=False),
    Column("published_by", Text, nullable=False),
    Column("trace_id", Text, nullable=False, server_default=""),
    ForeignKeyConstraint(["organisation", "run"], ["runs.organisation", "runs.id"]),
)

crew_calendars = Table(
    "crew_calendars",
    metadata,
    Column("organisation", Uuid, ForeignKey("organisations.id"), primary_key=True),
    Column("id", Text, primary_key=True),
    Column("crew", Text, nullable=False),
    Column("secret_sha256", LargeBinary, nullable=False),
    Column("made_at", _MOMENT, nullable=False),
    Column("made_by", Text, nullable=False),
    Column("trace_id", Text, nullable=False, server_default=""),
    Column("withdrawn_at", _MOMENT),
    CheckConstraint("octet_length(secret_sha256) = 32", name="secret"),
)
