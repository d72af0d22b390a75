"""Whatever book, place, currency and discounts: sums hold to the last digit, in any order of lines."""

import random
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.money.rounding import add_up, round_ratio
from slab_core.quote.change_order import change_order
from slab_core.quote.from_stock import STOCK
from slab_core.quote.model import Discount, JobDiscount, PriceBook, Quote, TaxPlace
from slab_core.quote.price import price
from slab_core.schedule.model import Purchase, Schedule
from slab_core.takeoff.model import Takeoff, TakeoffLine
from tests.unit.slab_core.quote.quotes import (
    DAY,
    PRICES,
    line,
    plain_book,
    plan,
    shown,
    takeoff,
    unseen_takeoff,
    varying_takeoff,
)

PRODUCTS = ("compound", "primer", "adhesive")
PLACE = "North County"
EXAMPLES = 60
DRAWN_EXAMPLES = 15


@st.composite
def books(draw: st.DrawFn, currency: tuple[str, int] | None = None) -> PriceBook:
    """Everything that makes lines, with rates of its own for one place."""
    name, digits = currency or draw(st.sampled_from((("JPY", 0), ("USD", 2), ("KWD", 3))))
    rate = st.decimals(0, Decimal("0.25"), places=4)
    share = st.decimals(0, Decimal("0.3"), places=3)
    prices = [
        replace(each, amount=draw(st.decimals(0, 400, places=digits)))
        for each in (*PRICES, *(replace(PRICES[1], code=product) for product in PRODUCTS))
    ]
    return plain_book(
        *prices,
        currency=name,
        digits=digits,
        rounding=draw(st.sampled_from(("half-up", "half-even"))),
        overhead_share=draw(share),
        profit_kind=draw(st.sampled_from(("markup", "margin"))),
        profit_share=draw(share),
        minimum_charge=draw(st.integers(0, 4000).map(Decimal)),
        warranty_share=draw(st.decimals(0, Decimal("0.1"), places=3)),
        discounts=tuple(
            Discount(code=f"d{k}", what="Off", share=each)
            for k, each in enumerate(draw(st.lists(share, max_size=2)))
        ),
        job_discount_share=Decimal("0.3"),
        tax_rates={"labour": draw(rate), "material": draw(rate)},
        tax_places=(TaxPlace(place=PLACE, rates={"material": draw(rate)}),),
        price_spread=Decimal(0),
        supplier_days=draw(st.integers(0, 90)),
        stock_priced=draw(st.booleans()),
    )


AMOUNTS = st.lists(st.floats(0.0, 60.0), min_size=5, max_size=5)
PLACES = st.sampled_from(("", PLACE))
OWN = st.sampled_from(
    (
        (),
        (JobDiscount(code="Again", what="Again", reason="Second job", share=Decimal("0.03")),),
        (
            JobDiscount(code="Late", what="Late", reason="A day late", share=Decimal(0), amount=Decimal(7)),
            JobDiscount(code="Again", what="Again", reason="Second job", share=Decimal("0.045")),
        ),
    )
)


def _lines(amounts: list[float]) -> tuple[TakeoffLine, ...]:
    """Two kinds of work, and three products, each in two places and one of them partly from stock."""
    work = [
        line(code, amount, price_code="labour")
        for code, amount in zip(("pour", "clean"), amounts, strict=False)
    ]
    bought = [
        replace(
            made := line(
                f"{where}-{product}", amount, price_code=product, kind="material", unit="m³", package="bag"
            ),
            key=replace(made.key, product=product),
            from_stock=2.0 if where == "here" else 0.0,
        )
        for product, amount in zip(PRODUCTS, amounts[2:], strict=True)
        for where in ("here", "there")
    ]
    return (*work, *bought)


def _planned() -> Schedule:
    """A plan of which only the purchases count."""
    purchases = tuple(
        Purchase(
            product=product, what=product.capitalize(), order=1.0, package="bag", weight_kg=0.0, first_use="",
            needed_on=date(2026, 3, 9) + timedelta(days=k), order_by=date(2026, 3, 2),
        )
        for k, product in enumerate(PRODUCTS)
    )  # fmt: skip
    return replace(plan(), purchases=purchases)


def _quoted(
    counted: Takeoff,
    book: PriceBook,
    place: str,
    own: tuple[JobDiscount, ...] = (),
    schedule: Schedule | None = None,
) -> Quote:
    return price(
        takeoff=counted, schedule=schedule or _planned(), price_book=book, pricing_date=DAY, rates=None,
        tax_place=place, discounts=own,
    )  # fmt: skip


@settings(max_examples=EXAMPLES, deadline=None)
@given(book=books(), amounts=AMOUNTS, place=PLACES, own=OWN)
def test_each_class_is_taxed_once_at_the_rate_of_the_place_and_lines_add_up(
    book: PriceBook, amounts: list[float], place: str, own: tuple[JobDiscount, ...]
) -> None:
    made = _quoted(takeoff(*_lines(amounts)), book, place, own)
    rates = book.tax_rates | (book.tax_places[0].rates if place else {})
    assert sum((Fraction(each.price) for each in made.lines), Fraction(0)) == Fraction(made.subtotal)
    assert sum((Fraction(each.tax) for each in made.lines), Fraction(0)) == Fraction(made.tax)
    assert made.total == made.subtotal + made.tax
    for name, rate in rates.items():
        mine = [each for each in made.lines if each.tax_class == name]
        base = sum((Fraction(each.price) for each in mine), Fraction(0))
        whole = round_ratio(value=base * Fraction(rate), digits=book.digits, rounding=book.rounding)
        assert add_up(amounts=(Decimal(0), *(each.tax for each in mine))) == whole
    for amount in (made.total, *(part for each in made.lines for part in (each.price, each.tax))):
        assert amount.as_tuple().exponent == -book.digits


@settings(max_examples=EXAMPLES, deadline=None)
@given(book=books(), amounts=AMOUNTS, place=PLACES, seed=st.integers(0, 99))
def test_the_order_of_lines_purchases_rates_and_places_changes_nothing(
    book: PriceBook, amounts: list[float], place: str, seed: int
) -> None:
    lines, purchases = list(_lines(amounts)), list(_planned().purchases)
    made = _quoted(takeoff(*lines), book, place)
    shuffle = random.Random(seed).shuffle
    shuffle(lines)
    shuffle(purchases)
    turned = replace(
        book,
        prices=book.prices[::-1],
        tax_rates=dict(reversed(book.tax_rates.items())),
        tax_places=(TaxPlace(place="Elsewhere", rates={}), *book.tax_places),
    )
    again = _quoted(takeoff(*lines), turned, place, schedule=replace(_planned(), purchases=tuple(purchases)))
    assert again == made


@settings(max_examples=EXAMPLES, deadline=None)
@given(book=books(), amounts=AMOUNTS, place=PLACES)
def test_suppliers_get_the_cost_of_all_material_but_for_what_comes_from_stock(
    book: PriceBook, amounts: list[float], place: str
) -> None:
    """Product by product, in the currency's own digits, whatever the customer is charged and taxed."""
    made = _quoted(takeoff(*_lines(amounts)), book, place)
    bought = [each for each in made.lines if each.kind == "material" and each.key.code != STOCK]
    assert [each.product for each in made.supplier_payments] == ([*PRODUCTS] if made.lines else [])
    for paid in made.supplier_payments:
        mine = [each.cost for each in bought if each.key.product == paid.product]
        assert Fraction(paid.amount) == sum(map(Fraction, mine))
        assert paid.amount.as_tuple().exponent == -book.digits
    all_paid = sum((Fraction(each.amount) for each in made.supplier_payments), Fraction(0))
    assert all_paid == sum((Fraction(each.cost) for each in bought), Fraction(0))


def _check_order(accepted: Quote, wanted: Quote) -> None:
    order = change_order(currency=accepted.currency, accepted=shown(accepted), wanted=shown(wanted))
    for before, more, after in (
        (accepted.subtotal, order.subtotal, wanted.subtotal),
        (accepted.tax, order.tax, wanted.tax),
        (accepted.total, order.total, wanted.total),
    ):
        assert Fraction(before) + Fraction(more) == Fraction(after)
    assert sum(Fraction(each.price + each.tax) for each in order.lines) == Fraction(order.total)
    assert all(each.reason for each in order.lines)
    was = {(each.key, each.kind): (each.price, each.tax) for each in shown(accepted)}
    for each in order.lines:
        price_before, tax_before = was.pop((each.key, each.kind), (Decimal(0), Decimal(0)))
        was[each.key, each.kind] = (price_before + each.price, tax_before + each.tax)
    now = {(each.key, each.kind): (each.price, each.tax) for each in shown(wanted)}
    assert {key: value for key, value in was.items() if any(value)} == {
        key: value for key, value in now.items() if any(value)
    }


JPY_USD_KWD = st.sampled_from((("JPY", 0), ("USD", 2), ("KWD", 3)))
TWO_BOOKS = JPY_USD_KWD.flatmap(lambda one: st.tuples(books(one), books(one)))


@settings(max_examples=EXAMPLES, deadline=None)
@given(both=TWO_BOOKS, before=st.tuples(AMOUNTS, PLACES, OWN), after=st.tuples(AMOUNTS, PLACES, OWN))
def test_an_accepted_quote_and_its_order_make_the_new_one_line_by_line_whatever_changed(
    both: tuple[PriceBook, PriceBook],
    before: tuple[list[float], str, tuple[JobDiscount, ...]],
    after: tuple[list[float], str, tuple[JobDiscount, ...]],
) -> None:
    """Quantities, prices, rounding, tax by place, minimum charge, reserve and discounts of book and job."""
    accepted, wanted = (
        _quoted(takeoff(*_lines(amounts)), book, place, own)
        for book, (amounts, place, own) in zip(both, (before, after), strict=True)
    )
    _check_order(accepted, wanted)


@settings(max_examples=DRAWN_EXAMPLES, deadline=None)
@given(both=TWO_BOOKS, level=st.sampled_from((None, Decimal("0.8"))), place=PLACES, own=OWN)
def test_so_does_the_order_from_an_unseen_slab_to_a_surveyed_one_with_what_is_allowed_for_risk(
    both: tuple[PriceBook, PriceBook], level: Decimal | None, place: str, own: tuple[JobDiscount, ...]
) -> None:
    accepted, wanted = (
        _quoted(counted, replace(book, risk_level=level), place, own, plan())
        for book, counted in zip(both, (unseen_takeoff(), varying_takeoff(sd=0.05)), strict=True)
    )
    _check_order(accepted, wanted)
