"""The firm's store of materials: entries with what they have now, and every move that made it so."""

from sqlalchemy import (
    CheckConstraint,
    Column,
    Date,
    DateTime,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    Table,
    Text,
    Uuid,
    func,
    text,
)

from slab_store.tables.metadata import metadata

_MOMENT = DateTime(timezone=True)

stock_entries = Table(
    "stock_entries",
    metadata,
    Column("organisation", Uuid, ForeignKey("organisations.id"), primary_key=True),
    Column("id", Uuid, primary_key=True),
    Column("product", Text, nullable=False),
    Column("use_by", Date),
    Column("note", Text, nullable=False, server_default=""),
    Column("closeout", Uuid),
    Column("packages", Integer, nullable=False, server_default="0"),
    Column("opened_thousandths", Integer, nullable=False, server_default="0"),
    Column("created_at", _MOMENT, nullable=False, server_default=func.now()),
    Column("created_by", Text, nullable=False),
    Column("trace_id", Text, nullable=False, server_default=""),
    ForeignKeyConstraint(
        ["organisation", "closeout"],
        ["closeouts.organisation", "closeouts.id"],
        name="stock_entries_organisation_fkey1",
    ),
    CheckConstraint("packages >= 0 AND opened_thousandths >= 0", name="not_below_zero"),
    Index(
        "stock_entries_left_idx",
        "organisation",
        "product",
        postgresql_where=text("packages > 0 OR opened_thousandths > 0"),
    ),
)

stock_moves = Table(
    "stock_moves",
    metadata,
    Column("organisation", Uuid, primary_key=True),
    Column("id", Uuid, primary_key=True),
    Column("entry", Uuid, nullable=False),
    Column("kind", Text, nullable=False),
    Column("packages", Integer, nullable=False),
    Column("opened_thousandths", Integer, nullable=False),
    Column("quote", Uuid),
    Column("note", Text, nullable=False, server_default=""),
    Column("created_at", _MOMENT, nullable=False, server_default=func.now()),
    Column("created_by", Text, nullable=False),
    Column("trace_id", Text, nullable=False, server_default=""),
    ForeignKeyConstraint(["organisation", "entry"], ["stock_entries.organisation", "stock_entries.id"]),
    ForeignKeyConstraint(
        ["organisation", "quote"],
        ["quotes.organisation", "quotes.id"],
        name="stock_moves_organisation_fkey1",
    ),
    CheckConstraint("kind IN ('came-in', 'left-over', 'corrected', 'reserved', 'given-back')", name="kind"),
    CheckConstraint("packages <> 0 OR opened_thousandths <> 0", name="moves_something"),
    CheckConstraint("(kind IN ('came-in', 'corrected')) = (quote IS NULL)", name="quote"),
    Index("stock_moves_organisation_entry_id_idx", "organisation", "entry", "id"),
    Index("stock_moves_organisation_quote_idx", "organisation", "quote"),
)
