"""Discounts of one job, beside those of the price book, within what the book allows for one.

They count as the book's own: each of the prices before any discount, taken off before the minimum charge is
looked at and before tax.
"""

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from slab_core.errors import Problem
from slab_core.money.rounding import add_up
from slab_core.quote.model import JobDiscount, PriceBook


def with_discounts(*, book: PriceBook, discounts: tuple[JobDiscount, ...]) -> PriceBook:
    """The book as it holds for this job."""
    return replace(book, discounts=(*book.discounts, *discounts))


def discount_problems(*, discounts: tuple[JobDiscount, ...], book: PriceBook) -> tuple[Problem, ...]:
    """Refusals of a job's discounts that can be told before anything is priced, each naming its field."""
    found = (*unclear_discounts(discounts=discounts), *_digits_problems(discounts, book))
    return found or beyond_allowed(discounts=discounts, book=book, prices=None)


def unclear_discounts(*, discounts: tuple[JobDiscount, ...]) -> tuple[Problem, ...]:
    """Refusals of discounts that no price book makes right."""
    return tuple(_problems(discounts))


def beyond_allowed(
    *, discounts: tuple[JobDiscount, ...], book: PriceBook, prices: Decimal | None
) -> tuple[Problem, ...]:
    """The refusal of discounts that together take off more of the `prices` than the book allows for a job;
    amounts count only where the prices are known."""
    most = book.job_discount_share
    share = add_up(amounts=(Decimal(0), *(each.share for each in discounts)))
    amount = add_up(amounts=(Decimal(0), *(each.amount for each in discounts)))
    of = Fraction(share) * Fraction(prices or 0) + Fraction(amount)
    too_much = share > most if prices is None else of > Fraction(most) * Fraction(prices)
    if not too_much:
        return ()
    parts = (f"{amount} {book.currency}" if amount else "", f"{_percent(share)} %" if share else "")
    allowed = f"{_percent(most)} % of the prices before discounts"
    known = "" if prices is None else f", which here are {prices} {book.currency}"
    together = " and ".join(filter(None, parts))
    detail = (
        f"the job's discounts come to {together}; the price book allows at most {allowed}{known}: give less, "
        "or a price book with a greater job_discount_share"
    )
    return (_refusal("discount-beyond-allowed", detail, ""),)


def _problems(discounts: tuple[JobDiscount, ...]) -> Iterator[Problem]:
    seen = set[str]()
    for row, each in enumerate(discounts):
        if not each.code.strip() or each.code in seen:
            detail = f"a discount needs a text of its own for the customer, not {each.code!r} again or none"
            yield _refusal("discount-code", detail, f"/{row}/what")
        seen.add(each.code)
        if not each.reason.strip():
            detail = "say why this job is let off, for the firm alone"
            yield _refusal("discount-reason", detail, f"/{row}/reason")
        yield from _amount_problems(each, f"/{row}")


def _amount_problems(each: JobDiscount, at: str) -> Iterator[Problem]:
    for name in ("share", "amount"):
        value = getattr(each, name)
        if not value.is_finite() or value < 0:
            yield _refusal("discount-amount", f"the {name} is {value}; it must be 0 or more", f"{at}/{name}")
            return
    if bool(each.share) == bool(each.amount):
        detail = "give either a share of the prices, such as 0.05 for 5 %, or an amount, above 0"
        yield _refusal("discount-amount", detail, at)


def _digits_problems(discounts: tuple[JobDiscount, ...], book: PriceBook) -> Iterator[Problem]:
    for row, each in enumerate(discounts):
        places = each.amount.normalize().as_tuple().exponent
        if isinstance(places, int) and -places > book.digits:
            detail = (
                f"{each.amount} has more digits than the {book.digits} of the price book's {book.currency}"
            )
            yield _refusal("discount-amount", detail, f"/{row}/amount")


def _percent(share: Decimal) -> str:
    return f"{(share * 100).normalize():f}"


def _refusal(code: str, detail: str, place: str) -> Problem:
    return Problem(code=code, detail=detail, pointer=f"/discounts{place}", severity="refusal")
