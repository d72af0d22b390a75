"""A quote adds up, tells its rules and refuses what it cannot price."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.quote.model import Price, Quote
from tests.unit.slab_core.quote.quotes import line, plain_book, quote, starter_rates


def _price(code: str, amount: str, *, unit: str = "PH", tax_class: str = "labour") -> Price:
    return Price(code=code, amount=Decimal(amount), unit=unit, tax_class=tax_class)


def test_a_hand_made_quote_comes_out_to_the_cent() -> None:
    # By hand: 10.5 PH x 52.00 = 546.00; 24 bags x 38.45 = 922.80; cost 1468.80. Overhead 12 % = 176.256 ->
    # 176.26; markup 15 % of 1645.06 = 246.759 -> 246.76; subtotal 1891.82. By cost the lines get
    # 703.2500... -> labour 703.25, bags 1188.57; tax 7 % of 1188.57 = 83.1999 -> 83.20.
    book = plain_book(
        _price("labour", "52.00"),
        _price("levelling-compound", "38.45", unit="bag", tax_class="material"),
        overhead_share=Decimal("0.12"),
        profit_share=Decimal("0.15"),
        tax_rates={"labour": Decimal(0), "material": Decimal("0.07")},
    )
    bags = line("levelling-compound", 24.0, unit="m3", package="bag", kind="material")
    result = quote(line("pour", 10.5, price_code="labour"), bags, book=book)
    assert (result.cost, result.overhead, result.profit) == tuple(
        map(Decimal, ("1468.80", "176.26", "246.76"))
    )
    assert {row.key.code: str(row.price) for row in result.lines} == {
        "levelling-compound": "1188.57",
        "pour": "703.25",
    }
    assert (str(result.subtotal), str(result.tax), str(result.total)) == ("1891.82", "83.20", "1975.02")
    assert result.problems == ()


ORDERS = st.lists(st.floats(0, 500), min_size=1, max_size=12)
SHARES = st.decimals(0, Decimal("0.9"), places=3)


@given(
    ORDERS,
    st.lists(st.decimals(0, 999, places=3), min_size=12, max_size=12),
    st.sampled_from([("JPY", 0), ("USD", 2), ("KWD", 3)]),
    SHARES,
    SHARES,
    st.sampled_from(["markup", "margin"]),
    st.sampled_from(["half-up", "half-even"]),
    st.decimals(0, 3000, places=2),
    st.randoms(use_true_random=False),
)
@settings(max_examples=60, deadline=None)
def test_lines_add_up_exactly_and_their_order_changes_nothing(
    orders: list[float],
    amounts: list[Decimal],
    money: tuple[str, int],
    overhead: Decimal,
    profit: Decimal,
    kind: str,
    rounding: str,
    minimum: Decimal,
    shuffled: object,
) -> None:
    lines = [
        line(f"work-{n}", order, kind="material" if n % 2 else "labour") for n, order in enumerate(orders)
    ]
    prices = [
        _price(f"work-{n}", str(a), tax_class="material" if n % 2 else "labour")
        for n, a in enumerate(amounts)
    ]
    book = plain_book(
        *prices,
        currency=money[0],
        digits=money[1],
        overhead_share=overhead,
        profit_share=profit,
        profit_kind=kind,
        rounding=rounding,
        minimum_charge=minimum,
        tax_rates={"labour": Decimal("0.055"), "material": Decimal("0.0825")},
    )
    result = quote(*lines, book=book, site_days=0)
    _adds_up(result, money[1])
    shuffled.shuffle(lines)  # type: ignore[attr-defined]  # hypothesis gives a random.Random
    assert quote(*lines, book=book, site_days=0) == result


def _adds_up(result: Quote, digits: int) -> None:
    assert sum(Fraction(row.price) for row in result.lines) == Fraction(result.subtotal)
    assert sum(Fraction(row.tax) for row in result.lines) == Fraction(result.tax)
    assert result.total == result.subtotal + result.tax
    assert sum(Fraction(row.cost) for row in result.lines) == Fraction(result.cost)
    raised = [row for row in result.lines if row.kind == "adjustment"]
    before = Fraction(result.cost) + Fraction(result.overhead) + Fraction(result.profit)
    assert before + sum(Fraction(row.price) for row in raised) == Fraction(result.subtotal)
    for row in result.lines:
        assert row.price.as_tuple().exponent == row.tax.as_tuple().exponent == -digits


def test_a_markup_of_a_quarter_is_a_margin_of_a_fifth() -> None:
    work = (line("labour", 100.0),)
    price_of_labour = _price("labour", "10.00")
    markup = quote(
        *work, book=plain_book(price_of_labour, profit_kind="markup", profit_share=Decimal("0.25"))
    )
    margin = quote(
        *work, book=plain_book(price_of_labour, profit_kind="margin", profit_share=Decimal("0.20"))
    )
    assert markup.profit == margin.profit == Decimal("250.00")
    assert markup.subtotal == margin.subtotal == Decimal("1250.00")


@given(st.decimals(1, 100_000, places=2), st.decimals(0, Decimal("0.95"), places=3))
def test_a_margin_is_its_share_of_the_price(cost: Decimal, share: Decimal) -> None:
    book = plain_book(_price("labour", str(cost)), profit_kind="margin", profit_share=share)
    result = quote(line("labour", 1.0), book=book)
    # Within the half cent that rounding the profit moves it by.
    assert abs(Fraction(result.profit) - Fraction(share) * Fraction(result.subtotal)) <= Fraction(1, 200)
    assert result.profit < result.cost * share / (1 - share) + Decimal("0.01")


@given(st.decimals(1, 100_000, places=2), st.decimals(0, 3, places=3))
def test_a_markup_is_its_share_of_the_cost(cost: Decimal, share: Decimal) -> None:
    book = plain_book(_price("labour", str(cost)), profit_kind="markup", profit_share=share)
    result = quote(line("labour", 1.0), book=book)
    assert abs(Fraction(result.profit) - Fraction(share) * Fraction(result.cost)) <= Fraction(1, 200)


def test_a_job_below_the_minimum_charge_is_raised_by_a_line_of_its_own() -> None:
    book = plain_book(
        _price("labour", "50.00"), minimum_charge=Decimal(950), tax_rates={"labour": Decimal("0.10")}
    )
    result = quote(line("labour", 4.0), book=book)
    work, raised = result.lines
    assert (work.price, raised.price, raised.kind) == (Decimal("200.00"), Decimal("750.00"), "adjustment")
    assert raised.key.code == "minimum-charge"
    assert (result.subtotal, result.tax, result.total) == (
        Decimal("950.00"),
        Decimal("95.00"),
        Decimal("1045.00"),
    )
    assert result.cost == Decimal("200.00")


def test_every_missing_price_is_named_with_its_unit() -> None:
    book = plain_book(_price("labour", "50.00"))
    bags = line("patch-compound", 3.0, unit="m3", package="bag", kind="material")
    saw = line("masonry-saw", 2.0, unit="mh", kind="equipment")
    result = quote(line("labour", 4.0), bags, saw, saw, book=book)
    assert [(p.code, p.severity, p.pointer) for p in result.problems] == [
        ("price-missing", "refusal", "/price_book/prices"),
        ("price-missing", "refusal", "/price_book/prices"),
    ]
    assert "masonry-saw by the mh" in result.problems[0].detail
    assert "patch-compound by the bag" in result.problems[1].detail
    assert (result.lines, result.total) == ((), Decimal("0.00"))


def test_a_price_by_another_unit_is_refused() -> None:
    book = plain_book(_price("levelling-compound", "38.00", unit="m3"))
    bags = line("levelling-compound", 3.0, unit="bag", package="bag", kind="material")
    (problem,) = quote(bags, book=book).problems
    assert (problem.code, problem.severity) == ("price-unit", "refusal")
    assert "by the m3 and is needed by the bag" in problem.detail


@pytest.mark.parametrize(
    ("day", "pointer"),
    [(date(2026, 1, 31), "/price_book/valid_from"), (date(2026, 3, 1), "/price_book/valid_to")],
)
def test_a_book_out_of_its_dates_is_refused(day: date, pointer: str) -> None:
    book = plain_book(valid_from=date(2026, 2, 1), valid_to=date(2026, 2, 28))
    (problem,) = quote(line("labour", 1.0), book=book, day=day).problems
    assert (problem.code, problem.severity, problem.pointer) == ("price-book-not-valid", "refusal", pointer)


def test_a_book_is_good_on_its_first_and_its_last_day() -> None:
    book = plain_book(valid_from=date(2026, 2, 1), valid_to=date(2026, 2, 28))
    for day in (date(2026, 2, 1), date(2026, 2, 28)):
        assert quote(line("labour", 1.0), book=book, day=day).problems == ()


@pytest.mark.parametrize(
    ("changes", "code", "pointer"),
    [
        (
            {"profit_kind": "margin", "profit_share": Decimal(1)},
            "margin-out-of-range",
            "/price_book/profit_share",
        ),
        ({"overhead_share": Decimal("-0.1")}, "price-negative", "/price_book/overhead_share"),
        ({"currency": "dollar"}, "currency-unknown", "/price_book/currency"),
        ({"digits": 40}, "currency-digits", "/price_book/digits"),
        ({"tax_rates": {"material": Decimal(0)}}, "tax-rate-missing", "/price_book/tax_rates"),
        ({"minimum_charge": Decimal("NaN")}, "price-negative", "/price_book/minimum_charge"),
        ({"prices": (_price("labour", "-1"),)}, "price-negative", "/price_book/prices/0/amount"),
        ({"prices": (_price("labour", "1"), _price("labour", "2"))}, "price-twice", "/price_book/prices/1"),
    ],
)
def test_a_book_that_makes_no_sense_is_refused_with_the_field_named(
    changes: dict[str, object], code: str, pointer: str
) -> None:
    result = quote(line("labour", 1.0), book=plain_book(**changes))
    assert [(p.code, p.severity, p.pointer) for p in result.problems] == [(code, "refusal", pointer)]
    assert result.lines == ()


def test_digits_that_are_not_the_currency_s_are_a_warning() -> None:
    result = quote(line("labour", 1.0), book=plain_book(digits=3))
    assert [(p.code, p.severity) for p in result.problems] == [("currency-digits", "warning")]
    assert str(result.total) == "52.000"


def test_trips_and_travel_come_from_the_days_on_site() -> None:
    result = quote(line("labour", 1.0), book=plain_book(), site_days=6, rates=starter_rates())
    rows = {row.key.code: row for row in result.lines}
    assert rows["trip"].quantity == 6
    # Five days without a pour at 1.25 PH; a pour day's own hours hold its trip.
    assert rows["travel"].quantity == Decimal("6.25")
    assert rows["travel"].trace.inputs["pour_days"] == "1"


def test_trips_of_the_takeoff_are_not_counted_again() -> None:
    own = line("trip", 4.0, unit="each", kind="equipment")
    result = quote(own, book=plain_book(), site_days=6, rates=starter_rates())
    assert [(row.key.code, row.quantity) for row in result.lines] == [("trip", Decimal(4))]


def test_a_line_keeps_the_trace_of_its_quantity() -> None:
    (row,) = quote(line("labour", 2.5), book=plain_book()).lines
    assert row.trace.inputs["area"] == "28 m²"
    assert row.trace.inputs["quantity from takeoff"] == "area / rate"
    assert row.trace.inputs["unit cost"] == "52.00 USD"


def test_quantities_are_exact_decimals_of_four_places() -> None:
    (row,) = quote(line("labour", 1 / 3), book=plain_book()).lines
    assert (row.quantity, row.cost) == (Decimal("0.3333"), Decimal("17.33"))
    (row,) = quote(line("labour", 20.0), book=plain_book()).lines
    assert str(row.quantity) == "20"


def test_a_quote_expires_and_states_its_rounding() -> None:
    result = quote(line("labour", 1.0), book=plain_book(valid_days=30))
    assert result.expires == date(2026, 4, 1)
    assert "half-up (ties away from zero) to 2 digits" in result.rounding


def test_nothing_to_price_makes_an_empty_quote() -> None:
    result = quote(book=plain_book(minimum_charge=Decimal(950)))
    assert (result.lines, str(result.total), result.problems) == ((), "0.00", ())


def test_a_price_change_moves_only_what_it_should() -> None:
    lines = (line("labour", 10.0), line("vacuum", 3.0, unit="mh", kind="equipment"))
    before = quote(*lines, book=plain_book())
    prices = tuple(
        replace(p, amount=Decimal("60.00")) if p.code == "labour" else p for p in plain_book().prices
    )
    after = quote(*lines, book=plain_book(*prices))
    assert [row.key for row in after.lines] == [row.key for row in before.lines]
    assert after.total - before.total == Decimal("80.00")
