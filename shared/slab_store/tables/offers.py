"""Quotes as customers get them, their answers, and orders that change what was accepted."""

from sqlalchemy import (
    CheckConstraint,
    Column,
    DateTime,
    ForeignKeyConstraint,
    Index,
    Integer,
    LargeBinary,
    Numeric,
    Table,
    Text,
    UniqueConstraint,
    Uuid,
    func,
)

from slab_store.tables.metadata import metadata

_MOMENT = DateTime(timezone=True)
_A_QUOTE = ["quotes.organisation", "quotes.id"]

offers = Table(
    "offers",
    metadata,
    Column("organisation", Uuid, primary_key=True),
    Column("id", Text, primary_key=True),
    Column("quote", Uuid, nullable=False),
    Column("secret_sha256", LargeBinary, nullable=False),
    Column("sent_at", _MOMENT, nullable=False),
    Column("valid_until", _MOMENT, nullable=False),
    Column("sent_by", Text, nullable=False),
    Column("trace_id", Text, nullable=False, server_default=""),
    Column("withdrawn_at", _MOMENT),
    Column("answer", Text),
    Column("answered_at", _MOMENT),
    Column("answered_name", Text),
    Column("answered_note", Text),
    ForeignKeyConstraint(["organisation", "quote"], _A_QUOTE),
    CheckConstraint("octet_length(secret_sha256) = 32", name="secret"),
    CheckConstraint("answer IN ('accepted', 'declined')", name="answer"),
    CheckConstraint(
        "(answer IS NULL) = (answered_at IS NULL) AND (answer IS NULL) = (answered_name IS NULL)",
        name="answered",
    ),
    Index("offers_organisation_quote_idx", "organisation", "quote"),
)

change_orders = Table(
    "change_orders",
    metadata,
    Column("organisation", Uuid, primary_key=True),
    Column("id", Uuid, primary_key=True),
    Column("number", Integer, nullable=False),
    Column("of_quote", Uuid, nullable=False),
    Column("to_quote", Uuid, nullable=False),
    Column("currency", Text, nullable=False),
    Column("total", Numeric, nullable=False),
    Column("document", LargeBinary, nullable=False),
    Column("created_at", _MOMENT, nullable=False, server_default=func.now()),
    Column("created_by", Text, nullable=False),
    Column("trace_id", Text, nullable=False, server_default=""),
    ForeignKeyConstraint(["organisation", "of_quote"], _A_QUOTE),
    ForeignKeyConstraint(["organisation", "to_quote"], _A_QUOTE, name="change_orders_organisation_fkey1"),
    UniqueConstraint("organisation", "of_quote", "number"),
    UniqueConstraint("organisation", "to_quote"),
)
