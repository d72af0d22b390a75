"""SQL as the repositories write it, with parameters by name, and the rows that it finds."""

import re
from collections.abc import Iterator, Mapping
from typing import Any

from psycopg import Cursor

Row = dict[str, Any]

_PARAMETER = re.compile(r"(?<![:\w]):(\w+)")


def text(sql: str) -> bytes:
    """The text for the driver, whose `%` is doubled; a parameter is written as `:name`."""
    return _PARAMETER.sub(r"%(\1)s", sql.replace("%", "%%")).encode()


class Rows:
    """What one statement found or changed, each row by the names of its columns."""

    __slots__ = ("_cursor",)

    def __init__(self, cursor: Cursor[Row]) -> None:
        self._cursor = cursor

    def __iter__(self) -> Iterator[Row]:
        return iter(self._cursor)

    @property
    def rowcount(self) -> int:
        """How many rows were changed, or found."""
        return self._cursor.rowcount

    def one(self) -> Row:
        """The only row. Raises ValueError when there is another number of them."""
        (row,) = self._cursor.fetchall()
        return row

    def one_or_none(self) -> Row | None:
        """The only row, or None. Raises ValueError when there are several."""
        rows = self._cursor.fetchall()
        if not rows:
            return None
        (row,) = rows
        return row

    def scalar(self) -> Any:
        """The first column of the only row; None if there is no row."""
        row = self.one_or_none()
        return None if row is None else _first(row)

    def scalars(self) -> Iterator[Any]:
        """The first column of every row."""
        return map(_first, self._cursor)


def _first(row: Mapping[str, Any]) -> Any:
    return next(iter(row.values()))
