"""Organisations and the keys that act for them."""

from sqlalchemy import CheckConstraint, Column, DateTime, ForeignKey, LargeBinary, Table, Text, Uuid, func
from sqlalchemy.dialects.postgresql import ARRAY

from slab_store.tables.metadata import metadata

_MOMENT = DateTime(timezone=True)

organisations = Table(
    "organisations",
    metadata,
    Column("id", Uuid, primary_key=True),
    Column("name", Text, nullable=False),
    Column("created_at", _MOMENT, nullable=False, server_default=func.now()),
)

api_keys = Table(
    "api_keys",
    metadata,
    Column("organisation", Uuid, ForeignKey("organisations.id"), primary_key=True),
    Column("id", Text, primary_key=True),
    Column("secret_sha256", LargeBinary, nullable=False),
    Column("role", Text, nullable=False),
    Column("scopes", ARRAY(Text), nullable=False, server_default="{}"),
    Column("label", Text, nullable=False, server_default=""),
    Column("created_at", _MOMENT, nullable=False, server_default=func.now()),
    Column("last_used_at", _MOMENT),
    Column("expires_at", _MOMENT),
    Column("revoked_at", _MOMENT),
    CheckConstraint("octet_length(secret_sha256) = 32", name="secret"),
    CheckConstraint("role IN ('office', 'crew-lead', 'field-device')", name="role"),
)
