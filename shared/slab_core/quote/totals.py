"""From the cost of lines to the customer's price: overhead, profit, minimum charge and tax."""

from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from slab_core.money.rounding import EXACT, add_up, round_ratio, round_to
from slab_core.money.split import split
from slab_core.quote.model import PriceBook, QuoteLine
from slab_core.takeoff.model import LineKey, Trace

MINIMUM = LineKey(code="minimum-charge")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sums:
    """Cost of all lines, and what is put on it. `before` is the subtotal before a minimum charge."""

    cost: Decimal
    overhead: Decimal
    profit: Decimal
    before: Decimal


def sums_of(*, costs: tuple[Decimal, ...], book: PriceBook) -> Sums:
    """Overhead is a share of the cost. Profit as markup m is m x (cost + overhead); as margin m it is
    that share of the price, so the price is (cost + overhead) / (1 - m). Each is rounded once."""
    cost = add_up(amounts=costs)
    overhead = _round(EXACT.multiply(cost, book.overhead_share), book)
    base = EXACT.add(cost, overhead)
    share = Fraction(book.profit_share)
    of_base = share if book.profit_kind == "markup" else share / (1 - share)
    profit = round_ratio(value=Fraction(base) * of_base, digits=book.digits, rounding=book.rounding)
    return Sums(cost=cost, overhead=overhead, profit=profit, before=EXACT.add(base, profit))


def on_top(*, book: PriceBook) -> Fraction:
    """What a line's price before tax is of its cost, a minimum charge apart."""
    share = Fraction(book.profit_share)
    profit = 1 + share if book.profit_kind == "markup" else 1 / (1 - share)
    return (1 + Fraction(book.overhead_share)) * profit


def priced(*, lines: tuple[QuoteLine, ...], sums: Sums, book: PriceBook) -> tuple[QuoteLine, ...]:
    """The lines with their share of the subtotal as price, by cost, adding up to it exactly."""
    if not lines:
        return ()
    weights = tuple(line.cost for line in lines)
    prices = split(total=sums.before, weights=weights, digits=book.digits)
    return tuple(replace(line, price=price) for line, price in zip(lines, prices, strict=True))


def minimum_line(*, before: Decimal, book: PriceBook, tax_class: str) -> tuple[QuoteLine, ...]:
    """What a job below the minimum charge is raised by, as a line of its own; nothing for one above it.
    `before` is the subtotal with all discounts."""
    least = _round(book.minimum_charge, book)
    if before >= least:
        return ()
    formula = "minimum charge - subtotal before it; it pays for coming out, so it is taxed as labour"
    inputs = {"minimum charge": str(least), "subtotal before it": str(before)}
    rise = EXACT.subtract(least, before)
    nothing = _round(Decimal(0), book)
    line = QuoteLine(
        key=MINIMUM,
        kind="adjustment",
        what="Adjustment to the minimum charge",
        quantity=Decimal(1),
        unit="each",
        unit_cost=nothing,
        cost=nothing,
        price=rise,
        tax_class=tax_class,
        tax=nothing,
        trace=Trace(stage="quote", formula=formula, inputs=inputs),
    )
    return (line,)


def taxed(*, lines: tuple[QuoteLine, ...], book: PriceBook) -> tuple[QuoteLine, ...]:
    """The lines with their tax: rounded once for each class on its sum, then shared among its lines, by what
    they charge and by what they take off."""
    taxes: dict[int, Decimal] = {}
    for tax_class in sorted({line.tax_class for line in lines}):
        mine = [i for i, line in enumerate(lines) if line.tax_class == tax_class]
        prices = tuple(lines[i].price for i in mine)
        whole = _round(EXACT.multiply(add_up(amounts=prices), book.tax_rates[tax_class]), book)
        taxes.update(zip(mine, _shared(whole, prices, tax_class, book), strict=True))
    return tuple(replace(line, tax=taxes[i]) for i, line in enumerate(lines))


def _shared(
    whole: Decimal, prices: tuple[Decimal, ...], tax_class: str, book: PriceBook
) -> tuple[Decimal, ...]:
    nothing = Decimal(0)
    off = tuple(max(nothing, EXACT.minus(price)) for price in prices)
    if not any(off):
        return split(total=whole, weights=prices, digits=book.digits)
    less = _round(EXACT.multiply(add_up(amounts=off), book.tax_rates[tax_class]), book)
    charged = tuple(max(nothing, price) for price in prices)
    given = split(total=EXACT.add(whole, less), weights=charged, digits=book.digits)
    taken = split(total=less, weights=off, digits=book.digits)
    return tuple(EXACT.subtract(a, b) for a, b in zip(given, taken, strict=True))


def _round(amount: Decimal, book: PriceBook) -> Decimal:
    return round_to(amount=amount, digits=book.digits, rounding=book.rounding)
