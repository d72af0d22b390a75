"""Why two estimates of a job differ: in what was surveyed, wished for, charged, or planned with."""

from dataclasses import fields
from typing import Final

from slab_app.codec import encode
from slab_core.job import Job
from slab_core.quote.change_order import Cause

_PARTS: Final[dict[Cause, tuple[str, ...]]] = {
    "survey": ("basis", "surveys", "benchmarks", "followed"),
    "wish": (
        *("rooms", "tolerance", "covering", "scope", "site", "limits"),
        *("level_through", "doorways", "confidence"),
    ),
    "prices": ("price_book", "tax_place", "discounts"),
}
_CAUSE = {name: cause for cause, names in _PARTS.items() for name in names}
_CHANGES_NOTHING = frozenset(
    {"name", "pricing_date", "earliest_start", "alternates", "corrected_as", "lower_bound"}
)
"""Days change no quantity, and which way of correction a quote is of is told by the quotes themselves."""


def causes_of(*, before: Job, after: Job, other_alternate: bool) -> frozenset[Cause]:
    """Everything that differs; what no other cause is behind is the firm's planning. `other_alternate` says
    that another way of correction was chosen."""
    found: set[Cause] = {"wish"} if other_alternate else set()
    for field in fields(Job):
        name = field.name
        if name not in _CHANGES_NOTHING and not _same(getattr(before, name), getattr(after, name)):
            found.add(_CAUSE.get(name, "planning"))
    return frozenset(found)


def _same(before: object, after: object) -> bool:
    """Equal as they are stored; readings are arrays, which do not compare."""
    return encode(before) == encode(after)
