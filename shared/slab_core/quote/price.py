"""The quote stage: takeoff and schedule through a price book."""

from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal

from slab_core.errors import Problem
from slab_core.materials.model import Rates
from slab_core.money.rounding import EXACT, add_up, from_float, round_to
from slab_core.quote.adjustments import discount_lines, warranty_line
from slab_core.quote.before_tear_out import before_tear_out
from slab_core.quote.check import (
    MOST_DIGITS,
    book_problems,
    labour_class,
    line_problems,
    no_tax_rate,
    price_of,
)
from slab_core.quote.contingency import (
    allowance_line,
    allowance_of,
    contingency,
    cost_draws,
    planned_cost,
)
from slab_core.quote.job_discounts import beyond_allowed, discount_problems, with_discounts
from slab_core.quote.labels import label_of
from slab_core.quote.mobilisation import mobilisation
from slab_core.quote.model import BeforeTearOut, Contingency, JobDiscount, Price, PriceBook, Quote, QuoteLine
from slab_core.quote.needed import needed_input
from slab_core.quote.supplier_payments import supplier_payments
from slab_core.quote.tax_places import at_place
from slab_core.quote.terms import cap_problems, date_problems, terms_of
from slab_core.quote.totals import Sums, minimum_line, priced, sums_of, taxed
from slab_core.schedule.model import Schedule
from slab_core.takeoff.model import Takeoff, TakeoffLine, Trace

QUANTITY_PLACES = 4


def price(
    *,
    takeoff: Takeoff,
    schedule: Schedule,
    price_book: PriceBook,
    pricing_date: date,
    rates: Rates | None,
    tax_place: str = "",
    discounts: tuple[JobDiscount, ...] = (),
) -> Quote:
    """Every line of the takeoff with its cost and price, in an order of their keys, and the totals.

    Quantities are rounded to four places (ties to even) from their exact value. `rates` tells the hours of
    a trip; without them only the vehicle is priced. A missing or unusable price refuses the quote: it has
    then no lines and no amounts, and a problem for everything that is wrong. `tax_place` names the rates
    of tax that hold where the work is done; `discounts` are those of this job alone.
    """
    found = at_place(book=price_book, place=tax_place)
    nowhere, book = ((found,), price_book) if isinstance(found, Problem) else ((), found)
    trips = mobilisation(takeoff=takeoff, schedule=schedule, rates=rates)
    problems = (
        *nowhere,
        *book_problems(book=book, pricing_date=pricing_date),
        *discount_problems(discounts=discounts, book=book),
        *line_problems(lines=(*takeoff.lines, *trips), book=book),
    )
    if any(problem.severity == "refusal" for problem in problems):
        return _quote(takeoff, book, pricing_date, _Priced(), problems)
    book = with_discounts(book=book, discounts=discounts)
    done = _through(takeoff, trips, book, discounts)
    if isinstance(done, Problem):
        return _quote(takeoff, book, pricing_date, _Priced(), (*problems, done))
    made = replace(_quote(takeoff, book, pricing_date, done, problems), tax_place=tax_place)
    return _with_terms(made, takeoff, schedule, book) if done.lines else made


def _with_terms(made: Quote, takeoff: Takeoff, schedule: Schedule, book: PriceBook) -> Quote:
    """What is agreed beside the lines, and what of it cannot be said."""
    terms = terms_of(total=made.total, contingency=made.contingency, book=book, schedule=schedule)
    unsaid = (
        *cap_problems(contingency=made.contingency, book=book),
        *date_problems(terms=terms, schedule=schedule),
    )
    return replace(
        made,
        terms=terms,
        before_tear_out=_unseen(takeoff, book),
        supplier_payments=supplier_payments(lines=made.lines, schedule=schedule, book=book),
        problems=(*made.problems, *unsaid),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Priced:
    """Finished lines and the sums behind them; none for a quote without lines."""

    lines: tuple[QuoteLine, ...] = ()
    sums: Sums | None = None
    contingency: Contingency | None = None


def _through(
    takeoff: Takeoff, trips: tuple[TakeoffLine, ...], book: PriceBook, discounts: tuple[JobDiscount, ...]
) -> _Priced | Problem:
    lines = (*takeoff.lines, *trips)
    if not lines:
        return _Priced()
    costed = _costed(lines, book)
    found, allowed = _allowed(takeoff, trips, costed, book)
    own = labour_class(book=book)
    reserve = warranty_line(cost=planned_cost(costed), book=book, tax_class=own)
    costed = (*costed, *allowed, *reserve)
    sums = sums_of(costs=tuple(line.cost for line in costed), book=book)
    charged = priced(lines=costed, sums=sums, book=book)
    for refused in beyond_allowed(discounts=discounts, book=book, prices=sums.before):
        return refused
    charged = (*charged, *discount_lines(lines=charged, book=book))
    before = add_up(amounts=tuple(line.price for line in charged))
    full = (*charged, *minimum_line(before=before, book=book, tax_class=own))
    if any(line.tax_class not in book.tax_rates for line in full):
        return no_tax_rate(tax_class=own)
    return _Priced(lines=taxed(lines=full, book=book), sums=sums, contingency=found)


def _allowed(
    takeoff: Takeoff, trips: tuple[TakeoffLine, ...], costed: tuple[QuoteLine, ...], book: PriceBook
) -> tuple[Contingency | None, tuple[QuoteLine, ...]]:
    """What the job may come to, and the allowance for it as a line; nothing without draws."""
    if takeoff.draws is None:
        return None, ()
    prices, planned = price_of(book=book), planned_cost(costed)
    costs = cost_draws(lines=takeoff.lines, further=trips, draws=takeoff.draws, prices=prices, book=book)
    amount = allowance_of(costs=costs, planned=planned, book=book)
    line = allowance_line(amount=amount, book=book, tax_class=labour_class(book=book))
    seen = takeoff.allowance is None
    found = contingency(costs=costs, book=book, prices=prices, planned=planned, allowance=amount, seen=seen)
    return found, line


def _costed(lines: tuple[TakeoffLine, ...], book: PriceBook) -> tuple[QuoteLine, ...]:
    prices = price_of(book=book)
    ordered = sorted(
        lines, key=lambda line: (line.key.text(), line.kind, line.price_code, line.what, line.order)
    )
    return tuple(_line(line, prices[line.price_code], book) for line in ordered)


def _line(line: TakeoffLine, unit_price: Price, book: PriceBook) -> QuoteLine:
    quantity = from_float(value=line.order, places=QUANTITY_PLACES).normalize()
    quantity = quantity.quantize(Decimal(1)) if quantity == quantity.to_integral_value() else quantity
    exact = EXACT.multiply(quantity, unit_price.amount)
    nothing = Decimal(0).scaleb(-book.digits)
    return QuoteLine(
        key=line.key,
        kind=line.kind,
        what=line.what,
        quantity=quantity,
        unit=unit_price.unit,
        unit_cost=unit_price.amount,
        cost=round_to(amount=exact, digits=book.digits, rounding=book.rounding),
        price=nothing,
        tax_class=unit_price.tax_class,
        tax=nothing,
        trace=_trace(line, quantity, unit_price, book),
    )


def _trace(line: TakeoffLine, quantity: Decimal, unit_price: Price, book: PriceBook) -> Trace:
    """The line's own trace, continued: its inputs stay, its formula becomes one of them."""
    inputs = {
        **line.trace.inputs,
        "quantity": f"{quantity} {unit_price.unit}",
        f"quantity from {line.trace.stage}": line.trace.formula,
        "price code": unit_price.code,
        "unit cost": f"{unit_price.amount} {book.currency}",
        "price book": book.version,
        **needed_input(line),
    }
    return Trace(stage="quote", formula="quantity x unit cost; price by share of the cost", inputs=inputs)


def _quote(
    takeoff: Takeoff, book: PriceBook, pricing_date: date, done: _Priced, problems: tuple[Problem, ...]
) -> Quote:
    nothing = Decimal(0).scaleb(-min(max(0, book.digits), MOST_DIGITS))
    sums = done.sums or Sums(cost=nothing, overhead=nothing, profit=nothing, before=nothing)
    subtotal = add_up(amounts=(nothing, *(line.price for line in done.lines)))
    tax = add_up(amounts=(nothing, *(line.tax for line in done.lines)))
    total = EXACT.add(subtotal, tax)
    return Quote(
        alternate=takeoff.alternate,
        currency=book.currency,
        price_book=book.version,
        pricing_date=pricing_date,
        expires=pricing_date + timedelta(days=book.valid_days),
        lines=done.lines,
        cost=sums.cost,
        overhead=sums.overhead,
        profit=sums.profit,
        subtotal=subtotal,
        tax=tax,
        total=total,
        rounding=rounding_rule(book=book),
        problems=problems,
        contingency=done.contingency,
        label=label_of(alternate=takeoff.alternate, book=book),
    )


def _unseen(takeoff: Takeoff, book: PriceBook) -> BeforeTearOut | None:
    if takeoff.allowance is None or takeoff.draws is None:
        return None
    return before_tear_out(allowance=takeoff.allowance, book=book, seed=takeoff.draws.seed)


def rounding_rule(*, book: PriceBook) -> str:
    """The rule of rounding in words, as it is printed on the quote."""
    tie = "away from zero" if book.rounding == "half-up" else "to the even digit"
    return (
        f"{book.rounding} (ties {tie}) to {book.digits} digits: each line's cost, overhead and profit once "
        "on their sums, tax once for each class on its sum; shares of a sum go to lines by largest "
        "remainder; in this order: prices, discounts (each of prices before any discount), minimum charge, "
        "tax on what is charged"
    )
