"""What a customer reads in place of the service's own words: names of corrections, and units."""

from typing import Final

from slab_core.errors import Problem
from slab_core.quote.model import PriceBook
from slab_core.stages import ALLOWANCE, CHEAPEST, FILL_ONLY, GRIND_ONLY, LEVEL, PLANE

USUAL: Final = {
    PLANE: "Floor brought to one flat plane",
    LEVEL: "Floor brought level",
    GRIND_ONLY: "Floor ground flat, nothing filled",
    FILL_ONLY: "Floor filled flat, nothing ground",
    CHEAPEST: "Floor corrected only where it has to be",
    ALLOWANCE: "Allowance for a slab that nobody has seen yet",
}
"""Of a firm that says nothing else."""


_UNITS: Final = {"PH": "person-hours", "mh": "machine-hours"}


def unit_in_words(unit: str) -> str:
    """A unit of a line as customers read it."""
    return _UNITS.get(unit, unit)


def label_of(*, alternate: str, book: PriceBook) -> str:
    """The firm's text for an alternate, else the usual one."""
    return book.alternate_labels.get(alternate) or USUAL.get(alternate, alternate)


def label_problems(*, book: PriceBook) -> tuple[Problem, ...]:
    """Refusals of labels for what is no alternate, and of empty or equal ones."""
    seen: dict[str, str] = {}
    found = []
    for alternate, text in sorted(book.alternate_labels.items()):
        if alternate not in USUAL:
            found.append(_refusal(alternate, f"{alternate!r} is no alternate; there are {', '.join(USUAL)}"))
        elif not text.strip() or text in seen:
            detail = f"a label needs a text of its own, not {text!r} again or none"
            found.append(_refusal(alternate, detail))
        seen[text] = alternate
    return tuple(found)


def _refusal(alternate: str, detail: str) -> Problem:
    pointer = f"/price_book/alternate_labels/{alternate.replace('~', '~0').replace('/', '~1')}"
    return Problem(code="alternate-label", detail=detail, pointer=pointer, severity="refusal")
