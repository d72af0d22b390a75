"""Tax by the place where the work is done."""

from collections.abc import Iterator
from dataclasses import replace

from slab_core.errors import Problem
from slab_core.quote.model import PriceBook

_PLACES = "/price_book/tax_places"


def at_place(*, book: PriceBook, place: str) -> PriceBook | Problem:
    """The book with the rates of a place in place of its own, class by class; as it is without a place."""
    if not place:
        return book
    for found in book.tax_places:
        if found.place == place:
            return replace(book, tax_rates={**book.tax_rates, **found.rates})
    known = ", ".join(found.place for found in book.tax_places) or "none"
    detail = f"the price book has no tax rates for the place {place!r}; it has them for: {known}"
    return Problem(code="tax-place-unknown", detail=detail, pointer="/site/tax_place", severity="refusal")


def place_problems(*, book: PriceBook) -> tuple[Problem, ...]:
    """Refusals of places, each naming its field."""
    return tuple(_problems(book))


def _problems(book: PriceBook) -> Iterator[Problem]:
    seen = set[str]()
    for row, found in enumerate(book.tax_places):
        if not found.place.strip() or found.place in seen:
            detail = f"a place of tax needs a name of its own, not {found.place!r} again or none"
            yield _refusal("tax-place-name", detail, f"{row}/place")
        seen.add(found.place)
        for name, rate in sorted(found.rates.items()):
            if not rate.is_finite() or rate < 0:
                detail = f"the tax rate of {name} is {rate}; it must be 0 or more"
                yield _refusal("price-negative", detail, f"{row}/rates/{name}")


def _refusal(code: str, detail: str, field: str) -> Problem:
    return Problem(code=code, detail=detail, pointer=f"{_PLACES}/{field}", severity="refusal")
