"""Terms of a quote that change none of its lines: when what is paid, a total not to be exceeded, standby."""

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction

from slab_core.errors import Problem
from slab_core.money.rounding import add_up, round_ratio, round_to
from slab_core.money.split import split
from slab_core.quote.milestones import SIGNING, is_milestone, no_milestone, plain_name, reached_minute
from slab_core.quote.model import Contingency, Payment, PriceBook, Terms
from slab_core.schedule.model import Schedule

_BOOK = "/price_book"


def terms_of(
    *, total: Decimal, contingency: Contingency | None, book: PriceBook, schedule: Schedule
) -> Terms:
    """The book's terms for a quote of this total; amounts in the currency's own digits, draws as the schedule
    reaches their milestones."""
    rate = book.standby_rate
    return Terms(
        payments=payments_of(total=total, book=book, schedule=schedule),
        not_to_exceed=_not_to_exceed(total, contingency, book),
        standby_rate=None if rate is None else _round(rate, book),
    )


def payments_of(*, total: Decimal, book: PriceBook, schedule: Schedule) -> tuple[Payment, ...]:
    """Deposit and progress draws in their order, adding up to `total` exactly; none where none is agreed."""
    shares = _shares(book)
    if not shares:
        return ()
    parts = split(total=total, weights=tuple(share for _, share in shares), digits=book.digits)
    return tuple(
        Payment(
            milestone=milestone,
            share=share,
            amount=amount,
            due_minute=reached_minute(milestone=milestone, schedule=schedule),
        )
        for (milestone, share), amount in zip(shares, parts, strict=True)
    )


def term_problems(*, book: PriceBook) -> tuple[Problem, ...]:
    """Refusals of the book's terms, each naming its field."""
    return (*_bad_amounts(book), *_bad_milestones(book), *_not_whole(book))


def cap_problems(*, contingency: Contingency | None, book: PriceBook) -> tuple[Problem, ...]:
    """A finding where a cap by chance is wanted and nothing tells what the job may come to."""
    if book.not_to_exceed_basis != "p95" or contingency is not None:
        return ()
    detail = (
        "no total not to be exceeded is stated: it is to be what the job keeps to in 95 of 100 cases, and "
        "this job's quantities have no draws; state a share instead"
    )
    pointer = f"{_BOOK}/not_to_exceed_basis"
    return (Problem(code="not-to-exceed-unknown", detail=detail, pointer=pointer),)


def date_problems(*, terms: Terms | None, schedule: Schedule) -> tuple[Problem, ...]:
    """A finding for each draw whose milestone the plan does not know, so that nothing says when it is due."""
    if terms is None or not schedule.placed:
        return ()
    deposits = 1 if terms.payments and terms.payments[0].milestone == SIGNING else 0
    return tuple(
        Problem(
            code="payment-undated",
            detail=_undated(payment.milestone),
            pointer=f"{_BOOK}/progress_draws/{row}/milestone",
        )
        for row, payment in enumerate(terms.payments[deposits:])
        if payment.due_minute is None
    )


def _undated(milestone: str) -> str:
    if is_milestone(milestone):
        return f"this job has no work that {milestone!r} waits for, so the plan does not say when that is due"
    return no_milestone(milestone)


def _shares(book: PriceBook) -> tuple[tuple[str, Decimal], ...]:
    deposit = ((SIGNING, book.deposit_share),) if book.deposit_share else ()
    return (*deposit, *((draw.milestone, draw.share) for draw in book.progress_draws))


def _not_to_exceed(total: Decimal, contingency: Contingency | None, book: PriceBook) -> Decimal | None:
    """Never below the quote's own total, which the customer has agreed to."""
    if book.not_to_exceed_basis == "share":
        whole = Fraction(total) * (1 + Fraction(book.not_to_exceed_share))
        return round_ratio(value=whole, digits=book.digits, rounding=book.rounding)
    if book.not_to_exceed_basis == "p95" and contingency is not None:
        return max(total, contingency.p95)
    return None


def _bad_amounts(book: PriceBook) -> Iterator[Problem]:
    rate = Decimal(0) if book.standby_rate is None else book.standby_rate
    named = (
        ("deposit_share", book.deposit_share),
        ("not_to_exceed_share", book.not_to_exceed_share),
        ("standby_rate", rate),
        *((f"progress_draws/{row}/share", draw.share) for row, draw in enumerate(book.progress_draws)),
    )
    for name, value in named:
        if not value.is_finite() or value < 0:
            yield _refusal("price-negative", f"{name} is {value}; it must be 0 or more", name)


def _bad_milestones(book: PriceBook) -> Iterator[Problem]:
    seen = {SIGNING} if book.deposit_share else set[str]()
    for row, draw in enumerate(book.progress_draws):
        name = f"progress_draws/{row}/milestone"
        if not draw.milestone.strip():
            yield _refusal("payment-milestone", "a draw needs the name of its milestone, such as start", name)
        elif plain_name(draw.milestone) in seen:
            detail = f"{draw.milestone!r} is due twice; give it one share (a deposit is due at {SIGNING!r})"
            yield _refusal("payment-milestone", detail, name)
        seen.add(plain_name(draw.milestone))


def _not_whole(book: PriceBook) -> Iterator[Problem]:
    shares = [share for _, share in _shares(book)]
    if not shares or not all(share.is_finite() for share in shares):
        return
    whole = add_up(amounts=tuple(shares))
    if whole != 1:
        detail = f"deposit_share and the shares of progress_draws add up to {whole}; they must add up to 1"
        yield _refusal("payments-not-whole", detail, "progress_draws")


def _round(amount: Decimal, book: PriceBook) -> Decimal:
    return round_to(amount=amount, digits=book.digits, rounding=book.rounding)


def _refusal(code: str, detail: str, field: str) -> Problem:
    return Problem(code=code, detail=detail, pointer=f"{_BOOK}/{field}", severity="refusal")
