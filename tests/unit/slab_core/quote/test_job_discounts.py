"""What one job is let off, and what customers read for the ways of correction."""

from dataclasses import replace
from decimal import Decimal

import pytest

from slab_core.quote.adjustments import JOB_DISCOUNT
from slab_core.quote.change_order import Cause, change_order
from slab_core.quote.job_discounts import discount_problems
from slab_core.quote.labels import USUAL, label_of
from slab_core.quote.model import Discount, JobDiscount, Quote
from slab_core.quote.price import price
from slab_core.quote.totals import MINIMUM
from slab_core.stages import ALLOWANCE, ALTERNATES
from tests.unit.slab_core.quote.quotes import (
    DAY,
    line,
    plan,
    quote,
    settled_book,
    shown,
    unseen_takeoff,
    varying_takeoff,
)

AGAIN = JobDiscount(code="Second job", what="Second job", reason="Came back", share=Decimal("0.05"))
LATE = JobDiscount(
    code="A day late",
    what="A day late",
    reason="Our grinder failed",
    share=Decimal(0),
    amount=Decimal("44.00"),
)
TAXES = {"labour": Decimal("0.03"), "material": Decimal("0.0825")}
MOST = Decimal("0.2")


def _quoted(*discounts: JobDiscount, **changes: object) -> Quote:
    """500.00 of labour and 380.00 of material, before what is taken off."""
    lines = (
        line("pour", 10.0, price_code="labour"),
        line("bag", 10.0, kind="material", unit="m³", package="bag"),
    )
    book = settled_book(**({"job_discount_share": MOST, "tax_rates": TAXES} | changes))
    return quote(*lines, book=book, discounts=discounts)


def _off(made: Quote) -> list[tuple[str, str]]:
    return [(each.what, str(each.price)) for each in made.lines if each.key.code == JOB_DISCOUNT]


def test_a_share_and_an_amount_come_off_by_class_of_tax_and_tax_is_of_what_is_left() -> None:
    # By hand, of 880.00: 5 % is 44.00, to labour 25.00 and to material 19.00; the amount of 44.00 likewise.
    # Tax: 3 % of 450.00 = 13.50, 8.25 % of 342.00 = 28.215 -> 28.22 (half up).
    made = _quoted(AGAIN, LATE)
    assert _off(made) == [
        ("Second job", "-25.00"),
        ("Second job", "-19.00"),
        ("A day late", "-25.00"),
        ("A day late", "-19.00"),
    ]
    assert (str(made.subtotal), str(made.tax), str(made.total)) == ("792.00", "41.72", "833.72")


def test_the_reason_is_in_the_trace_and_not_in_what_the_customer_reads() -> None:
    made = _quoted(LATE)
    (first, _) = [each for each in made.lines if each.key.code == JOB_DISCOUNT]
    assert first.trace.inputs["reason"] == "Our grinder failed"
    assert first.trace.inputs["amount"] == "44.00"
    assert "grinder" not in first.what


def test_each_discount_is_of_the_prices_before_any_and_the_minimum_charge_comes_after_them() -> None:
    spring = Discount(code="spring", what="Spring", share=Decimal("0.1"))
    made = _quoted(AGAIN, discounts=(spring,), minimum_charge=Decimal(800))
    assert _off(made) == [("Second job", "-25.00"), ("Second job", "-19.00")]
    (rise,) = [each.price for each in made.lines if each.key.code == MINIMUM.code]
    assert (rise, made.subtotal) == (Decimal("52.00"), Decimal("800.00"))
    assert made.rounding.endswith(
        "prices, discounts (each of prices before any discount), minimum charge, tax on what is charged"
    )


def test_a_job_without_any_is_quoted_as_before() -> None:
    assert _quoted() == _quoted(job_discount_share=Decimal(0))


@pytest.mark.parametrize(
    ("discount", "allowed", "told"),
    [
        (AGAIN, "0.049", "5 %; the price book allows at most 4.9 %"),
        (LATE, "0.049", "44.00 USD; the price book allows at most 4.9 % of the prices before discounts"),
        (LATE, "0.049", "discounts, which here are 880.00 USD"),
        (AGAIN, "0", "at most 0 %"),
    ],
)
def test_more_than_the_firm_allows_refuses_the_quote_with_both_figures(
    discount: JobDiscount, allowed: str, told: str
) -> None:
    made = _quoted(discount, job_discount_share=Decimal(allowed))
    assert made.lines == ()
    (problem,) = [each for each in made.problems if each.severity == "refusal"]
    assert (problem.code, problem.pointer) == ("discount-beyond-allowed", "/discounts")
    assert told in problem.detail


def test_just_what_the_firm_allows_is_taken_off() -> None:
    assert _quoted(LATE, job_discount_share=Decimal("0.05")).subtotal == Decimal("836.00")


@pytest.mark.parametrize(
    ("discounts", "code", "pointer"),
    [
        ((AGAIN, AGAIN), "discount-code", "/discounts/1/what"),
        ((replace(AGAIN, code=" "),), "discount-code", "/discounts/0/what"),
        ((replace(AGAIN, reason=""),), "discount-reason", "/discounts/0/reason"),
        ((replace(AGAIN, amount=Decimal(1)),), "discount-amount", "/discounts/0"),
        ((replace(AGAIN, share=Decimal(0)),), "discount-amount", "/discounts/0"),
        ((AGAIN, replace(LATE, amount=Decimal(-1))), "discount-amount", "/discounts/1/amount"),
        ((replace(AGAIN, share=Decimal("NaN")),), "discount-amount", "/discounts/0/share"),
        ((replace(LATE, amount=Decimal("1.005")),), "discount-amount", "/discounts/0/amount"),
    ],
)
def test_a_discount_that_is_not_clear_is_refused_at_its_field(
    discounts: tuple[JobDiscount, ...], code: str, pointer: str
) -> None:
    found = discount_problems(discounts=discounts, book=settled_book(job_discount_share=MOST))
    assert (code, pointer) in {(each.code, each.pointer) for each in found}
    assert _quoted(*discounts).lines == ()


def test_a_book_s_discounts_and_what_a_job_may_be_let_off_stay_below_the_price() -> None:
    half = Discount(code="half", what="Half", share=Decimal("0.5"))
    made = _quoted(discounts=(half,), job_discount_share=Decimal("0.5"))
    assert ("discounts-take-all", "/price_book/job_discount_share") in {
        (each.code, each.pointer) for each in made.problems
    }


def test_what_the_job_may_come_to_has_a_job_s_discounts_in_it() -> None:
    for least in (Decimal(0), Decimal(3000)):
        book = settled_book(
            overhead_share=Decimal("0.1"), profit_share=Decimal("0.2"), tax_rates=TAXES,
            job_discount_share=MOST, minimum_charge=least,
        )  # fmt: skip
        made = price(
            takeoff=varying_takeoff(sd=0.0), schedule=plan(), price_book=book, pricing_date=DAY, rates=None,
            discounts=(AGAIN, LATE),
        )  # fmt: skip
        assert made.contingency is not None
        assert abs(made.contingency.p80 - made.total) <= Decimal("0.03")


def test_a_unit_more_is_let_off_its_share_and_no_amount() -> None:
    book = settled_book(job_discount_share=MOST, tax_rates=TAXES)

    def unit(*discounts: JobDiscount) -> Decimal:
        made = price(
            takeoff=unseen_takeoff(), schedule=plan(), price_book=book, pricing_date=DAY, rates=None,
            discounts=discounts,
        )  # fmt: skip
        assert made.before_tear_out is not None
        return made.before_tear_out.unit_prices[0].price

    assert unit(LATE) == unit()
    assert abs(unit(AGAIN) - unit() * Decimal("0.95")) <= Decimal("0.01")


@pytest.mark.parametrize(
    ("before", "after", "reason"),
    [
        (
            (AGAIN,),
            (replace(AGAIN, share=Decimal("0.06")),),
            "the discount's share of 0.05 became one of 0.06",
        ),
        (
            (AGAIN,),
            (replace(AGAIN, share=Decimal(0), amount=Decimal("30.00")),),
            "the discount's share of 0.05 became an amount of 30.00",
        ),
        ((), (AGAIN,), "a discount that was not in what was accepted"),
        ((AGAIN,), (), "the discount is no longer given"),
    ],
)
def test_a_change_order_says_how_a_discount_was_changed(
    before: tuple[JobDiscount, ...], after: tuple[JobDiscount, ...], reason: str
) -> None:
    causes: frozenset[Cause] = frozenset({"prices", "wish", "survey"})
    accepted, wanted = _quoted(*before), _quoted(*after)
    order = change_order(currency="USD", accepted=shown(accepted), wanted=shown(wanted), causes=causes)
    assert accepted.total + order.total == wanted.total
    assert {(each.reason, each.cause) for each in order.lines} == {(reason, "prices")}


def test_every_alternate_has_words_for_the_customer_and_the_firm_s_own_come_first() -> None:
    assert set(USUAL) == {*ALTERNATES, ALLOWANCE}
    book = settled_book(alternate_labels={"level": "Best: dead level"})
    assert label_of(alternate="level", book=book) == "Best: dead level"
    assert label_of(alternate="plane", book=book) == USUAL["plane"]
    assert _quoted(alternate_labels={"plane": "Good"}).label == "Good"


@pytest.mark.parametrize(
    ("labels", "at"),
    [
        ({"flat/ish": "Good"}, "flat~1ish"),
        ({"plane": " "}, "plane"),
        ({"level": "Good", "plane": "Good"}, "plane"),
    ],
)
def test_a_label_of_no_alternate_or_without_a_text_of_its_own_is_refused(
    labels: dict[str, str], at: str
) -> None:
    made = _quoted(alternate_labels=labels)
    assert made.lines == ()
    (problem,) = [each for each in made.problems if each.severity == "refusal"]
    assert (problem.code, problem.pointer) == ("alternate-label", f"/price_book/alternate_labels/{at}")
