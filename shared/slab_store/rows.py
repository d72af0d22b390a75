"""Small parts that the repositories of records share."""

from collections.abc import Mapping
from dataclasses import fields
from typing import Any, TypeVar

import msgspec
from psycopg.errors import UniqueViolation

from slab_store.errors import AlreadyExists
from slab_store.session import TenantSession

Shape = TypeVar("Shape")


def columns(shape: type) -> str:
    """The fields of a row's dataclass as a list of columns."""
    return ", ".join(field.name for field in fields(shape))


def json_text(document: Mapping[str, object]) -> str:
    """A document as text for a jsonb column."""
    return msgspec.json.encode(document).decode()


def insert_new(
    session: TenantSession,
    statement: bytes,
    *,
    table: str,
    record: Any,
    with_tables: tuple[str, ...] = (),
    **values: Any,
) -> None:
    """Insert one row, and those in `with_tables` that have its id. Raises AlreadyExists when it is taken."""
    try:
        session.execute(statement, **values)
    except UniqueViolation as problem:
        # Postgres names whichever table it came to first.
        if problem.diag.constraint_name in {f"{name}_pkey" for name in (table, *with_tables)}:
            raise AlreadyExists(table=table, record=record) from problem
        raise


def one(session: TenantSession, statement: bytes, shape: type[Shape], **values: Any) -> Shape | None:
    """The row that a query finds, or None."""
    row = session.execute(statement, **values).one_or_none()
    return shape(**row) if row else None


def many(session: TenantSession, statement: bytes, shape: type[Shape], **values: Any) -> tuple[Shape, ...]:
    """All rows that a query finds."""
    return tuple(shape(**row) for row in session.execute(statement, **values))
