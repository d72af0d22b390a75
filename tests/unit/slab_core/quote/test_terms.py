"""When a quote is paid, what it may come to at most, and what standing by costs."""

from dataclasses import replace
from decimal import Decimal
from itertools import pairwise

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from slab_core.money.rounding import add_up
from slab_core.quote.milestones import is_milestone, reached_minute
from slab_core.quote.model import PriceBook, ProgressDraw, Quote, Terms
from slab_core.quote.price import price
from slab_core.quote.starter import price_book
from slab_core.quote.terms import payments_of
from slab_core.schedule.model import Activity, Placed, Schedule
from tests.unit.slab_core.quote.quotes import (
    DAY,
    line,
    plain_book,
    plan,
    quote,
    settled_book,
    takeoff,
    varying_takeoff,
)

DRAWS = (
    ProgressDraw(milestone="start", share=Decimal("0.3")),
    ProgressDraw(milestone="after correction", share=Decimal("0.3")),
    ProgressDraw(milestone="hand-over", share=Decimal("0.1")),
)
DEPOSIT = Decimal("0.3")
ADDED = ("deposit_share", "progress_draws", "not_to_exceed_basis", "not_to_exceed_share", "standby_rate")


def _quoted(book: PriceBook) -> Quote:
    return quote(line("pour", 10.01, price_code="labour"), book=book)


def _terms(made: Quote) -> Terms:
    assert made.terms is not None
    return made.terms


def test_payments_of_a_hand_made_quote_stand_in_their_order() -> None:
    # By hand: 1000.01 in shares of 0.3, 0.3, 0.3 and 0.1 is 300.003 three times and 100.001; cut off, one
    # cent is left, and the first of those that lost most gets it.
    book = plain_book(deposit_share=DEPOSIT, progress_draws=DRAWS)
    found = payments_of(total=Decimal("1000.01"), book=book, schedule=plan())
    assert [(each.milestone, str(each.amount)) for each in found] == [
        ("signing", "300.01"), ("start", "300.00"), ("after correction", "300.00"), ("hand-over", "100.00"),
    ]  # fmt: skip


@given(
    steps=st.integers(0, 10**9),
    digits=st.integers(0, 4),
    permille=st.lists(st.integers(0, 1000), min_size=1, max_size=6),
)
def test_payments_add_up_to_the_total_in_any_currency_s_digits(
    steps: int, digits: int, permille: list[int]
) -> None:
    """And none is a whole step off its share."""
    cuts = [0, *sorted(permille), 1000]
    shares = [Decimal(b - a) / 1000 for a, b in pairwise(cuts)]
    draws = tuple(ProgressDraw(milestone=f"part {k}", share=share) for k, share in enumerate(shares[1:]))
    book = plain_book(digits=digits, deposit_share=shares[0], progress_draws=draws)
    total, step = Decimal(steps).scaleb(-digits), Decimal(1).scaleb(-digits)
    found = payments_of(total=total, book=book, schedule=plan())
    assert add_up(amounts=tuple(each.amount for each in found)) == total
    assert all(each.amount == each.amount.quantize(step) for each in found)
    assert all(abs(each.amount - total * each.share) < step for each in found)


@given(hours=st.floats(0.1, 500.0), digits=st.integers(0, 3))
def test_terms_change_no_line_and_no_total_and_payments_make_the_total(hours: float, digits: int) -> None:
    plain = plain_book(digits=digits, overhead_share=Decimal("0.123"), profit_share=Decimal("0.157"))
    with_terms = plain_book(
        digits=digits,
        overhead_share=Decimal("0.123"),
        profit_share=Decimal("0.157"),
        deposit_share=DEPOSIT,
        progress_draws=DRAWS,
        standby_rate=Decimal(400),
    )
    one, other = (quote(line("pour", hours, price_code="labour"), book=b) for b in (plain, with_terms))
    assert one.lines == other.lines
    assert one.total == other.total
    assert add_up(amounts=tuple(each.amount for each in _terms(other).payments)) == other.total


def test_a_book_that_agrees_nothing_states_nothing() -> None:
    assert _terms(_quoted(plain_book())) == Terms()


def test_a_book_stored_before_there_were_terms_loads_with_none_agreed() -> None:
    book = price_book()
    stored = {name: value for name, value in msgspec.to_builtins(book).items() if name not in ADDED}
    assert msgspec.convert(stored, PriceBook, strict=False) == book


def test_a_quote_stored_before_there_were_terms_loads() -> None:
    made = _quoted(plain_book())
    stored = msgspec.to_builtins(made)
    del stored["terms"]
    loaded = msgspec.convert(stored, Quote, strict=False)
    assert loaded.terms is None
    assert loaded.total == made.total


@pytest.mark.parametrize(
    ("changes", "code", "where"),
    [
        ({"deposit_share": DEPOSIT}, "payments-not-whole", "progress_draws"),
        ({"progress_draws": DRAWS}, "payments-not-whole", "progress_draws"),
        ({"deposit_share": Decimal("-0.1")}, "price-negative", "deposit_share"),
        ({"deposit_share": Decimal("NaN")}, "price-negative", "deposit_share"),
        ({"standby_rate": Decimal(-1)}, "price-negative", "standby_rate"),
        ({"not_to_exceed_share": Decimal(-1)}, "price-negative", "not_to_exceed_share"),
        (
            {"progress_draws": (ProgressDraw(milestone="", share=Decimal(1)),)},
            "payment-milestone",
            "progress_draws/0/milestone",
        ),
        (
            {
                "deposit_share": Decimal("0.7"),
                "progress_draws": (ProgressDraw(milestone="signing", share=DEPOSIT),),
            },
            "payment-milestone",
            "progress_draws/0/milestone",
        ),
    ],
)
def test_terms_that_cannot_be_refuse_the_quote_and_name_their_field(
    changes: dict[str, object], code: str, where: str
) -> None:
    made = _quoted(plain_book(**changes))
    assert made.lines == ()
    assert made.terms is None
    refused = {(each.code, each.pointer) for each in made.problems if each.severity == "refusal"}
    assert (code, f"/price_book/{where}") in refused


def test_a_total_not_to_be_exceeded_by_share_is_rounded_once() -> None:
    book = plain_book(not_to_exceed_basis="share", not_to_exceed_share=Decimal("0.075"))
    made = _quoted(book)
    # By hand: 10.01 PH x 52.00 = 520.52; 7.5 % more is 559.559.
    assert (made.total, _terms(made).not_to_exceed) == (Decimal("520.52"), Decimal("559.56"))


def test_a_total_not_to_be_exceeded_by_chance_is_the_quote_s_p95() -> None:
    book = settled_book(not_to_exceed_basis="p95")
    made = price(takeoff=varying_takeoff(), schedule=plan(), price_book=book, pricing_date=DAY, rates=None)
    assert made.contingency is not None
    assert _terms(made).not_to_exceed == made.contingency.p95 > made.total


def test_a_total_not_to_be_exceeded_is_never_below_the_quote_s_own() -> None:
    book = settled_book(not_to_exceed_basis="p95", risk_level=Decimal("0.99"))
    made = price(takeoff=varying_takeoff(), schedule=plan(), price_book=book, pricing_date=DAY, rates=None)
    assert made.contingency is not None
    assert made.contingency.p95 < made.total == _terms(made).not_to_exceed


def test_a_cap_by_chance_without_draws_is_not_stated_and_a_finding_says_so() -> None:
    made = _quoted(plain_book(not_to_exceed_basis="p95"))
    assert _terms(made).not_to_exceed is None
    (problem,) = made.problems
    assert (problem.code, problem.severity) == ("not-to-exceed-unknown", "finding")
    assert problem.pointer == "/price_book/not_to_exceed_basis"


def test_standby_is_a_rate_in_the_currency_s_digits_and_no_line() -> None:
    made = _quoted(plain_book(standby_rate=Decimal("412.345")))
    assert _terms(made).standby_rate == Decimal("412.35")
    assert [each.key.code for each in made.lines] == ["pour"]


def _planned() -> Schedule:
    """A day of tear-out, two of pours, boards and an end; minutes by hand."""
    codes = (("tear-out", 0, 480), ("pour", 1440, 1900), ("polish", 2880, 3000), ("spread", 4320, 4800))
    activities = tuple(
        Activity(
            id=code, code=code, what=code, floor="", phase=1, people=2, work_minutes=1, person_hours=1.0,
            machine="", lags=(),
        )
        for code, _, _ in codes
    )  # fmt: skip
    placed = tuple(
        Placed(activity=code, start_minute=start, end_minute=end, first_day=1, last_day=1)
        for code, start, end in codes
    )
    return replace(plan(), activities=activities, placed=placed, start_minute=0, finish_minute=5000)


@pytest.mark.parametrize(
    ("milestone", "minute"),
    [
        ("signing", None), ("start", 0), ("Start", 0), ("after correction", 3000), ("after-laying", 4800),
        ("tear-out", 480), ("after pour", 1900), ("hand-over", 5000), ("finish", 5000), ("moving in", None),
        ("grind", None),
    ],
)  # fmt: skip
def test_a_milestone_is_reached_when_its_last_work_ends(milestone: str, minute: int | None) -> None:
    assert reached_minute(milestone=milestone, schedule=_planned()) == minute
    assert is_milestone(milestone) == (milestone != "moving in")


def test_draws_have_the_plan_s_dates_and_one_without_is_a_finding_at_its_place() -> None:
    draws = (
        ProgressDraw(milestone="after correction", share=Decimal("0.3")),
        ProgressDraw(milestone="moving in", share=Decimal("0.4")),
    )
    book = plain_book(deposit_share=DEPOSIT, progress_draws=draws)
    hours = takeoff(line("pour", 10.01, price_code="labour"))
    made = price(takeoff=hours, schedule=_planned(), price_book=book, pricing_date=DAY, rates=None)
    assert [each.due_minute for each in _terms(made).payments] == [None, 3000, None]
    (problem,) = made.problems
    assert (problem.code, problem.severity) == ("payment-undated", "finding")
    assert problem.pointer == "/price_book/progress_draws/1/milestone"
    assert "moving in" in problem.detail


def test_work_that_a_job_has_not_is_told_from_what_is_no_milestone() -> None:
    draws = (ProgressDraw(milestone="After grind", share=Decimal(1)),)
    hours = takeoff(line("pour", 10.01, price_code="labour"))
    book = plain_book(progress_draws=draws)
    made = price(takeoff=hours, schedule=_planned(), price_book=book, pricing_date=DAY, rates=None)
    (problem,) = made.problems
    assert problem.detail.startswith("this job has no work that 'After grind' waits for")


def test_a_milestone_said_in_two_ways_is_due_twice() -> None:
    draws = tuple(ProgressDraw(milestone=name, share=Decimal("0.5")) for name in ("After pour", "after-pour"))
    made = _quoted(plain_book(progress_draws=draws))
    (problem,) = made.problems
    assert (problem.code, problem.pointer) == (
        "payment-milestone", "/price_book/progress_draws/1/milestone",
    )  # fmt: skip
