"""Why two estimates of a job differ: in what was surveyed, wished for, charged, or planned with."""

from typing import Final

from slab_app.codec import encode
from slab_core.job import Job
from slab_core.quote.change_order import Cause

_FIELDS: Final[dict[Cause, tuple[str, ...]]] = {
    "survey": ("basis", "surveys", "benchmarks"),
    "wish": ("rooms", "tolerance", "covering", "scope", "site", "limits", "level_through", "confidence"),
    "prices": ("price_book", "tax_place"),
    "planning": ("catalogue", "rates", "planning", "calendar", "climate", "surface", "seed"),
}


def causes_of(*, before: Job, after: Job, other_alternate: bool) -> frozenset[Cause]:
    """Everything that differs but days, which change no quantity; `other_alternate` says that another way of
    correction was chosen."""
    found: set[Cause] = {"wish"} if other_alternate and before.basis == after.basis else set()
    for cause, names in _FIELDS.items():
        if any(not _same(getattr(before, name), getattr(after, name)) for name in names):
            found.add(cause)
    return frozenset(found)


def _same(before: object, after: object) -> bool:
    """Equal as they are stored; readings are arrays, which do not compare."""
    return encode(before) == encode(after)
