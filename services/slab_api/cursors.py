"""Opaque cursors of lists: where the next page begins, bound to the list and the filters it belongs to."""

import base64
import hashlib
from uuid import UUID

from slab_api.problems import ApiProblem

DEFAULT_SIZE = 50
GREATEST_SIZE = 200
_LENGTH = 16 + 8


def page_size(text: str | None) -> int:
    """How many items a page has: a wish, brought down to the most there can be."""
    if text is None:
        return DEFAULT_SIZE
    if not (text.isascii() and text.isdigit()) or int(text[:9]) == 0:
        raise ApiProblem("invalid-parameter", "page_size must be a whole number from 1 up")
    return min(int(text[:9]), GREATEST_SIZE)


def make_cursor(*, after: UUID, filters: str) -> str:
    """The cursor of the page that follows the record `after` in the list that `filters` names."""
    return base64.urlsafe_b64encode(after.bytes + _stamp(filters)).decode().rstrip("=")


def read_cursor(text: str | None, *, filters: str) -> UUID | None:
    """The last record of the page before. Raises ApiProblem for a cursor of another list."""
    if text is None:
        return None
    try:
        raw = base64.b64decode(text + "=" * (-len(text) % 4), altchars=b"-_", validate=True)
    except ValueError:
        raw = b""
    if len(raw) != _LENGTH or raw[16:] != _stamp(filters):
        raise ApiProblem(
            "invalid-cursor",
            "this cursor is not one that this list gave for these filters; start again without a cursor",
        )
    return UUID(bytes=raw[:16])


def _stamp(filters: str) -> bytes:
    return hashlib.sha256(filters.encode()).digest()[:8]
