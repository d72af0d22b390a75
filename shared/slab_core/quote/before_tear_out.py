"""What a quote says of a slab that nobody has seen: what is allowed, what each unit more or less changes, and
whether to look first."""

from decimal import Decimal
from fractions import Fraction

from slab_core.money.rounding import from_float, round_ratio
from slab_core.quote.adjustments import charged_for
from slab_core.quote.check import labour_tax, price_of
from slab_core.quote.model import BeforeTearOut, PriceBook, UnitPrice
from slab_core.quote.survey_value import cost_of_parts, survey_value
from slab_core.stages import PLANE
from slab_core.takeoff.model import Allowance, AllowedQuantity

_PLACES = 2


def before_tear_out(*, allowance: Allowance, book: PriceBook, seed: int) -> BeforeTearOut:
    """Unit prices bear overhead and profit as lines do. Every part has a price: the lines were priced."""
    prices = tuple(_unit_price(each, book) for each in allowance.quantities)
    return BeforeTearOut(
        removal=allowance.removal,
        age=allowance.age,
        jobs=allowance.jobs,
        unit_prices=prices,
        quick_survey=survey_value(allowance=allowance, book=book, seed=seed),
        sentence=_sentence(allowance, prices, book),
    )


def _unit_price(each: AllowedQuantity, book: PriceBook) -> UnitPrice:
    prices = price_of(book=book)
    cost = cost_of_parts(parts=each.parts, book=book)
    charged = charged_for(book=book)
    taxed = sum(
        (
            Fraction(prices[part.price_code].amount)
            * Fraction(part.quantity)
            * Fraction(book.tax_rates[prices[part.price_code].tax_class])
            for part in each.parts
        ),
        cost * Fraction(book.warranty_share) * Fraction(labour_tax(book=book)),
    )
    without_reserve = charged / (1 + Fraction(book.warranty_share))
    return UnitPrice(
        code=each.code,
        what=each.what,
        unit=each.unit,
        allowed=_quantity(each.planned),
        kept_to_in_80=_quantity(each.by_chance.p80),
        kept_to_in_95=_quantity(each.by_chance.p95),
        cost=_money(cost, book),
        price=_money(cost * charged, book),
        tax=_money(taxed * without_reserve, book),
    )


def _sentence(allowance: Allowance, prices: tuple[UnitPrice, ...], book: PriceBook) -> str:
    allowed = " and ".join(f"{_words(each.allowed)} {_NAMES[each.code]}" for each in prices)
    seldom = " and ".join(f"{_words(each.kept_to_in_95)} {_NAMES[each.code]}" for each in prices)
    each = " and ".join(f"{each.price} {book.currency} a {_ONE[each.code]}" for each in prices)
    known = f"{allowance.jobs} of our own jobs" if allowance.jobs else "common practice"
    return (
        f"Nobody has seen this slab: by {known} the price reckons with {allowed}{_of_a_plane(allowance)}, in "
        f"95 of 100 cases it takes no more than {seldom}, and what is more or less is charged or credited at "
        f"{each}, before tax."
    )


def _of_a_plane(allowance: Allowance) -> str:
    if allowance.corrected_as == PLANE:
        return ""
    if allowance.bags_share == 1.0:
        return " as for one flat plane (no straightedge is laid that would tell how many fewer)"
    return (
        f" (bags are {allowance.bags_share:.2f} of those for one flat plane, as only what the rule asks for "
        "is corrected: an estimate from invented slabs)"
    )


_NAMES = {"bags": "bags", "grinding": "machine-hours"}
_ONE = {"bags": "bag", "grinding": "machine-hour"}


def _words(quantity: Decimal) -> str:
    return f"{quantity.normalize():f}"


def _quantity(value: float) -> Decimal:
    return from_float(value=value, places=_PLACES)


def _money(value: Fraction, book: PriceBook) -> Decimal:
    return round_ratio(value=value, digits=book.digits, rounding=book.rounding)
