"""Pages of lists: a few items, and a cursor when there are more."""

from collections.abc import Callable, Sequence
from typing import Any, Protocol, TypeVar
from uuid import UUID

from slab_api.cursors import make_cursor, page_size, read_cursor


class _HasId(Protocol):
    @property
    def id(self) -> UUID: ...


Record = TypeVar("Record", bound=_HasId)


def page(
    *,
    filters: str,
    size: str | None,
    cursor: str | None,
    load: Callable[[int, UUID | None], Sequence[Record]],
    view: Callable[[Record], dict[str, Any]],
) -> dict[str, Any]:
    """One page. `filters` names the list and its filters; `load` is asked for one more than that."""
    wanted = page_size(size)
    found = load(wanted + 1, read_cursor(cursor, filters=filters))
    shown = found[:wanted]
    following = make_cursor(after=shown[-1].id, filters=filters) if len(found) > wanted else None
    return {"items": [view(record) for record in shown], "next": following}
