"""What a price book that is posted may not refer to: work that no plan has, and classes of tax that no price
or rate knows. Misspelt, they would be kept and never count.

A book from before these were refused is still priced with, and its quote says what lacks.
"""

from collections.abc import Iterable, Iterator

from slab_core.errors import Problem
from slab_core.quote.milestones import is_milestone, no_milestone
from slab_core.quote.model import PriceBook

_BOOK = "/price_book"


def reference_problems(*, book: PriceBook) -> tuple[Problem, ...]:
    """Refusals of the book's references, each naming its field and what there is."""
    return (*_milestones(book), *_classes_of_prices(book), *_classes_of_places(book))


def unborne_classes(*, book: PriceBook, names: Iterable[str]) -> tuple[Problem, ...]:
    """Refusals of those of the names of `tax_rates` that no price bears."""
    known = sorted({price.tax_class for price in book.prices})
    return tuple(
        _refusal(
            "tax-rate-missing",
            f"no price is of the class {name!r}, so its rate would never count; there are {', '.join(known)}",
            f"tax_rates/{_escaped(name)}",
        )
        for name in names
        if name not in known
    )


def _milestones(book: PriceBook) -> Iterator[Problem]:
    for row, draw in enumerate(book.progress_draws):
        if draw.milestone.strip() and not is_milestone(draw.milestone):
            at = f"progress_draws/{row}/milestone"
            yield _refusal("payment-milestone", no_milestone(draw.milestone), at)


def _classes_of_prices(book: PriceBook) -> Iterator[Problem]:
    for row, price in enumerate(book.prices):
        if price.tax_class not in book.tax_rates:
            detail = (
                f"{price.code} is of the class {price.tax_class!r}, which has no tax rate; give one in "
                f"tax_rates, 0 where there is no tax, or a class of {_rates(book)}"
            )
            yield _refusal("tax-rate-missing", detail, f"prices/{row}/tax_class")


def _classes_of_places(book: PriceBook) -> Iterator[Problem]:
    for row, place in enumerate(book.tax_places):
        for name in sorted(place.rates):
            if name not in book.tax_rates:
                detail = f"{name!r} is no class of the book's tax_rates; there are {_rates(book)}"
                at = f"tax_places/{row}/rates/{_escaped(name)}"
                yield _refusal("tax-rate-missing", detail, at)


def _rates(book: PriceBook) -> str:
    return ", ".join(sorted(book.tax_rates))


def _escaped(name: str) -> str:
    """As a step of a JSON pointer (RFC 6901)."""
    return name.replace("~", "~0").replace("/", "~1")


def _refusal(code: str, detail: str, field: str) -> Problem:
    return Problem(code=code, detail=detail, pointer=f"{_BOOK}/{field}", severity="refusal")
