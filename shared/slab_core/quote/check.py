"""What must hold of a price book before anything is priced with it."""

from datetime import date
from decimal import Decimal

from slab_core.errors import Problem
from slab_core.money.currencies import digits_of, is_code
from slab_core.quote.adjustments import adjustment_problems
from slab_core.quote.labels import label_problems
from slab_core.quote.model import Price, PriceBook
from slab_core.quote.tax_places import place_problems
from slab_core.quote.terms import term_problems
from slab_core.takeoff.codes import LABOUR
from slab_core.takeoff.model import TakeoffLine

PRICES = "/price_book/prices"
MOST_DIGITS = 6


def book_problems(*, book: PriceBook, pricing_date: date) -> tuple[Problem, ...]:
    """Refusals of the book itself, and a warning where its digits are not the currency's."""
    return (
        *_validity(book, pricing_date),
        *_currency(book),
        *_shares(book),
        *_prices(book),
        *term_problems(book=book),
        *adjustment_problems(book=book),
        *place_problems(book=book),
        *label_problems(book=book),
    )


def price_of(*, book: PriceBook) -> dict[str, Price]:
    """The book's prices by code."""
    return {price.code: price for price in book.prices}


def line_problems(*, lines: tuple[TakeoffLine, ...], book: PriceBook) -> tuple[Problem, ...]:
    """A refusal for every price that is missing, in another unit, or of a class without a tax rate."""
    prices = price_of(book=book)
    missing: dict[tuple[str, str], str] = {}
    found: dict[tuple[str, str], Problem] = {}
    for line in lines:
        price, unit = prices.get(line.price_code), line.package or line.unit
        if price is None:
            missing.setdefault((line.price_code, unit), line.what)
        elif price.unit not in (line.package, line.unit):
            found[line.price_code, unit] = _other_unit(price, line)
        elif price.tax_class not in book.tax_rates:
            found[price.tax_class, "tax"] = no_tax_rate(tax_class=price.tax_class)
    absent = (_missing(code, unit, what) for (code, unit), what in sorted(missing.items()))
    return (*absent, *(found[key] for key in sorted(found)))


def labour_class(*, book: PriceBook) -> str:
    """The class of tax of labour, and of what pays for coming out."""
    return next((price.tax_class for price in book.prices if price.code == LABOUR), "labour")


def labour_tax(*, book: PriceBook) -> Decimal:
    """The rate on it; 0 in a book that has none, where no line may be of that class."""
    return book.tax_rates.get(labour_class(book=book), Decimal(0))


def no_tax_rate(*, tax_class: str) -> Problem:
    """The refusal for a class of lines that the book has no tax rate for."""
    detail = f"the price book has no tax rate for the class {tax_class!r}; give one, 0 where there is no tax"
    return _refusal("tax-rate-missing", detail, "/price_book/tax_rates")


def _missing(code: str, unit: str, what: str) -> Problem:
    detail = f"the price book has no price for {code} by the {unit} ({what})"
    return _refusal("price-missing", detail, PRICES)


def _other_unit(price: Price, line: TakeoffLine) -> Problem:
    wanted = line.package or line.unit
    detail = f"{price.code} is priced by the {price.unit} and is needed by the {wanted}"
    return _refusal("price-unit", detail, PRICES)


def _validity(book: PriceBook, day: date) -> tuple[Problem, ...]:
    if book.valid_from <= day <= book.valid_to:
        return ()
    side = "valid_from" if day < book.valid_from else "valid_to"
    detail = f"price book {book.version} is valid from {book.valid_from} to {book.valid_to}, not on {day}"
    return (_refusal("price-book-not-valid", detail, f"/price_book/{side}"),)


def _currency(book: PriceBook) -> tuple[Problem, ...]:
    if not is_code(book.currency):
        detail = f"{book.currency!r} is not a currency code of three capital letters, such as USD"
        return (_refusal("currency-unknown", detail, "/price_book/currency"),)
    usual = digits_of(currency=book.currency)
    if not 0 <= book.digits <= MOST_DIGITS:
        detail = f"{book.digits} digits are no way to write money; {book.currency} has {usual}"
        return (_refusal("currency-digits", detail, "/price_book/digits"),)
    if book.digits == usual:
        return ()
    detail = f"the price book rounds to {book.digits} digits; {book.currency} has {usual}"
    return (Problem(code="currency-digits", detail=detail, pointer="/price_book/digits", severity="warning"),)


def _shares(book: PriceBook) -> tuple[Problem, ...]:
    found = [_share(name, value) for name, value in _amounts(book) if not value.is_finite() or value < 0]
    margin = book.profit_share
    if book.profit_kind == "margin" and margin.is_finite() and margin >= 1:
        detail = f"a margin is a share of the price and below 1, not {margin}; a markup may be any"
        found.append(_refusal("margin-out-of-range", detail, "/price_book/profit_share"))
    return tuple(found)


def _amounts(book: PriceBook) -> tuple[tuple[str, Decimal], ...]:
    named = (
        ("overhead_share", book.overhead_share),
        ("profit_share", book.profit_share),
        ("minimum_charge", book.minimum_charge),
    )
    return (*named, *((f"tax_rates/{name}", rate) for name, rate in sorted(book.tax_rates.items())))


def _share(name: str, value: Decimal) -> Problem:
    return _refusal("price-negative", f"{name} is {value}; it must be 0 or more", f"/price_book/{name}")


def _prices(book: PriceBook) -> tuple[Problem, ...]:
    found, seen = [], set[str]()
    for position, price in enumerate(book.prices):
        pointer = f"{PRICES}/{position}"
        if price.code in seen:
            found.append(_refusal("price-twice", f"{price.code} has more than one price", pointer))
        if not price.amount.is_finite() or price.amount < 0:
            detail = f"the price of {price.code} is {price.amount}; it must be 0 or more"
            found.append(_refusal("price-negative", detail, f"{pointer}/amount"))
        seen.add(price.code)
    return tuple(found)


def _refusal(code: str, detail: str, pointer: str) -> Problem:
    return Problem(code=code, detail=detail, pointer=pointer, severity="refusal")
