"""The quote stage: takeoff and schedule through a price book."""

from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal

from slab_core.errors import Problem
from slab_core.materials.rates_model import Rates
from slab_core.money.rounding import EXACT, add_up
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
from slab_core.quote.costs import costed_lines
from slab_core.quote.directions import direction_prices
from slab_core.quote.from_stock import stock_lines
from slab_core.quote.job_discounts import beyond_allowed, discount_problems, with_discounts
from slab_core.quote.labels import label_of
from slab_core.quote.mobilisation import mobilisation
from slab_core.quote.model import BeforeTearOut, Contingency, JobDiscount, PriceBook, Quote, QuoteLine
from slab_core.quote.supplier_payments import supplier_payments
from slab_core.quote.tax_places import at_place
from slab_core.quote.terms import cap_problems, date_problems, terms_of
from slab_core.quote.totals import Sums, minimum_line, priced, sums_of, taxed
from slab_core.schedule.model import Calendar, Schedule
from slab_core.takeoff.model import Takeoff, TakeoffLine


def price(
    *,
    takeoff: Takeoff,
    schedule: Schedule,
    price_book: PriceBook,
    pricing_date: date,
    rates: Rates | None,
    tax_place: str = "",
    discounts: tuple[JobDiscount, ...] = (),
    calendar: Calendar | None = None,
) -> Quote:
    """Every line of the takeoff with its cost and price, in an order of their keys, and the totals.

    Quantities are rounded to four places (ties to even) from their exact value. `rates` tells the hours of
    a trip; without them only the vehicle is priced. A missing or unusable price refuses the quote: it has
    then no lines and no amounts, and a problem for everything that is wrong. `tax_place` names the rates
    of tax that hold where the work is done; `discounts` are those of this job alone. Suppliers are paid on
    working days of `calendar`, or on any day where there is none.
    """
    found = at_place(book=price_book, place=tax_place)
    nowhere, book = ((found,), price_book) if isinstance(found, Problem) else ((), found)
    further = (
        *mobilisation(takeoff=takeoff, schedule=schedule, rates=rates),
        *stock_lines(lines=takeoff.lines, book=book),
    )
    problems = (
        *nowhere,
        *book_problems(book=book, pricing_date=pricing_date),
        *discount_problems(discounts=discounts, book=book),
        *line_problems(lines=(*takeoff.lines, *further), book=book),
    )
    if any(problem.severity == "refusal" for problem in problems):
        return _quote(takeoff, book, pricing_date, _Priced(), problems)
    book = with_discounts(book=book, discounts=discounts)
    done = _through(takeoff, further, book, discounts)
    if isinstance(done, Problem):
        return _quote(takeoff, book, pricing_date, _Priced(), (*problems, done))
    made = replace(_quote(takeoff, book, pricing_date, done, problems), tax_place=tax_place)
    return _with_terms(made, takeoff, schedule, book, calendar) if done.lines else made


def _with_terms(
    made: Quote, takeoff: Takeoff, schedule: Schedule, book: PriceBook, calendar: Calendar | None
) -> Quote:
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
        supplier_payments=supplier_payments(
            lines=made.lines, schedule=schedule, book=book, calendar=calendar
        ),
        directions=direction_prices(takeoff=takeoff, book=book),
        problems=(*made.problems, *unsaid),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Priced:
    """Finished lines and the sums behind them; none for a quote without lines."""

    lines: tuple[QuoteLine, ...] = ()
    sums: Sums | None = None
    contingency: Contingency | None = None


def _through(
    takeoff: Takeoff, further: tuple[TakeoffLine, ...], book: PriceBook, discounts: tuple[JobDiscount, ...]
) -> _Priced | Problem:
    lines = (*takeoff.lines, *further)
    if not lines:
        return _Priced()
    costed = costed_lines(lines=lines, book=book)
    found, allowed = _allowed(takeoff, further, costed, book)
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
    takeoff: Takeoff, further: tuple[TakeoffLine, ...], costed: tuple[QuoteLine, ...], book: PriceBook
) -> tuple[Contingency | None, tuple[QuoteLine, ...]]:
    """What the job may come to, and the allowance for it as a line; nothing without draws."""
    if takeoff.draws is None:
        return None, ()
    prices, planned = price_of(book=book), planned_cost(costed)
    costs = cost_draws(lines=takeoff.lines, further=further, draws=takeoff.draws, prices=prices, book=book)
    amount = allowance_of(costs=costs, planned=planned, book=book)
    line = allowance_line(amount=amount, book=book, tax_class=labour_class(book=book))
    seen = takeoff.allowance is None
    found = contingency(costs=costs, book=book, prices=prices, planned=planned, allowance=amount, seen=seen)
    return found, line


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
