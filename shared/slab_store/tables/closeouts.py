"""What jobs really took."""

from sqlalchemy import Column, Date, DateTime, ForeignKeyConstraint, Index, Table, Text, Uuid, func
from sqlalchemy.dialects.postgresql import JSONB

from slab_store.tables.metadata import metadata

closeouts = Table(
    "closeouts",
    metadata,
    Column("organisation", Uuid, primary_key=True),
    Column("id", Uuid, primary_key=True),
    Column("quote", Uuid, nullable=False),
    Column("crew", Text, nullable=False),
    Column("finished_on", Date, nullable=False),
    Column("document", JSONB, nullable=False),
    Column("evidence", JSONB, nullable=False),
    Column("created_at", DateTime(timezone=True), nullable=False, server_default=func.now()),
    Column("created_by", Text, nullable=False),
    Column("trace_id", Text, nullable=False, server_default=""),
    ForeignKeyConstraint(["organisation", "quote"], ["quotes.organisation", "quotes.id"]),
    Index("closeouts_organisation_quote_idx", "organisation", "quote"),
)
