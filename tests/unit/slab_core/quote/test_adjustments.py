"""A reserve for call-backs, discounts, and tax by place."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from slab_core.money.rounding import add_up, round_ratio
from slab_core.quote.adjustments import DISCOUNT, WARRANTY
from slab_core.quote.change_order import change_order
from slab_core.quote.model import Discount, JobDiscount, PriceBook, Quote, TaxPlace
from slab_core.quote.price import price
from slab_core.quote.starter import price_book
from slab_core.quote.totals import MINIMUM
from tests.unit.slab_core.quote.quotes import (
    DAY,
    PRICES,
    line,
    plain_book,
    plan,
    quote,
    settled_book,
    shown,
    takeoff,
    unseen_takeoff,
    varying_takeoff,
)

SPRING = Discount(code="spring", what="Spring discount", share=Decimal("0.05"))
TWO_DOORS = Discount(code="neighbour", what="Two doors down", share=Decimal("0.1"))
TAXES = {
    "labour": Decimal("0.03"), "material": Decimal("0.0825"), "equipment": Decimal(0), "disposal": Decimal(0),
}  # fmt: skip
ADDED = ("warranty_share", "discounts", "tax_places")


def _quoted(
    book: PriceBook, *, hours: float = 10.0, bags: float = 10.0, discounts: tuple[JobDiscount, ...] = ()
) -> Quote:
    material = line("bag", bags, kind="material", unit="m³", package="bag")
    return quote(line("pour", hours, price_code="labour"), material, book=book, discounts=discounts)


def _found(made: Quote, code: str) -> list[str]:
    return [str(each.price) for each in made.lines if each.key.code == code]


def test_a_hand_made_quote_with_reserve_and_discount_comes_out_to_the_cent() -> None:
    # By hand: 10 PH x 50 = 500; 10 bags x 38 = 380; reserve 2 % of 880 = 17.60; cost 897.60; markup 10 % is
    # 89.76, together 987.36: labour 550.00 + 19.36 of the reserve, bags 418.00. 5 % off is 49.368 -> 49.37:
    # to labour 28.4698... and to material 20.9001..., cut off 28.46 and 20.90, the cent left to labour. Tax
    # of labour 3 % of 540.89 = 16.2267 -> 16.23, of material 8.25 % of 397.10 = 32.76075 -> 32.76.
    book = settled_book(
        profit_share=Decimal("0.1"), warranty_share=Decimal("0.02"), discounts=(SPRING,), tax_rates=TAXES
    )
    made = _quoted(book)
    assert _found(made, "warranty-reserve") == ["19.36"]
    assert _found(made, DISCOUNT) == ["-28.47", "-20.90"]
    assert (str(made.subtotal), str(made.tax), str(made.total)) == ("937.99", "48.99", "986.98")


def test_the_minimum_charge_holds_after_discounts() -> None:
    made = _quoted(settled_book(discounts=(SPRING,), minimum_charge=Decimal(860)))
    assert sum(map(Decimal, _found(made, DISCOUNT))) == Decimal("-44.00")
    assert _found(made, MINIMUM.code) == ["24.00"]
    assert made.subtotal == Decimal("860.00")


BOOKS = st.builds(
    lambda digits, reserve, shares, least, rates: settled_book(
        digits=digits,
        overhead_share=Decimal("0.123"),
        profit_share=Decimal("0.157"),
        warranty_share=reserve,
        discounts=tuple(Discount(code=f"d{k}", what="Off", share=share) for k, share in enumerate(shares)),
        minimum_charge=least,
        tax_rates=TAXES | {"labour": rates[0], "material": rates[1]},
        job_discount_share=Decimal("0.09"),
    ),
    digits=st.integers(0, 3),
    reserve=st.decimals(0, Decimal("0.1"), places=3),
    shares=st.lists(st.decimals(0, Decimal("0.3"), places=3), max_size=3),
    least=st.integers(0, 3000).map(Decimal),
    rates=st.tuples(*[st.decimals(0, Decimal("0.25"), places=4)] * 2),
)
AMOUNTS = st.floats(0.0, 60.0)
OWN = st.sampled_from(
    (
        (),
        (JobDiscount(code="Neighbour", what="Neighbour", reason="Saw us next door", share=Decimal("0.045")),),
        (
            JobDiscount(
                code="Late", what="Late", reason="We came a day late", share=Decimal(0), amount=Decimal(7)
            ),
            JobDiscount(code="Again", what="Again", reason="Second job", share=Decimal("0.03")),
        ),
    )
)
"""What one job is let off; beyond what the book allows only where hardly anything is charged."""


@given(book=BOOKS, hours=AMOUNTS, bags=AMOUNTS, own=OWN)
def test_lines_and_taxes_add_up_in_any_currency_s_digits(
    book: PriceBook, hours: float, bags: float, own: tuple[JobDiscount, ...]
) -> None:
    """And each class is taxed on what is charged of it, discounts taken off."""
    made = _quoted(book, hours=hours, bags=bags, discounts=own)
    assert (made.lines == ()) == any(each.code == "discount-beyond-allowed" for each in made.problems)
    assert add_up(amounts=tuple(each.price for each in made.lines)) == made.subtotal
    assert add_up(amounts=tuple(each.tax for each in made.lines)) == made.tax
    for name, rate in book.tax_rates.items():
        mine = [each for each in made.lines if each.tax_class == name]
        base = sum((Fraction(each.price) for each in mine), Fraction(0))
        whole = round_ratio(value=base * Fraction(rate), digits=book.digits, rounding=book.rounding)
        assert add_up(amounts=tuple(each.tax for each in mine)) == whole
    for each in made.lines:
        assert each.price.as_tuple().exponent == each.tax.as_tuple().exponent == -book.digits


@given(book=BOOKS, hours=AMOUNTS, bags=AMOUNTS, own=OWN)
def test_the_order_of_the_lines_and_of_a_job_s_discounts_changes_no_sum(
    book: PriceBook, hours: float, bags: float, own: tuple[JobDiscount, ...]
) -> None:
    lines = (
        line("pour", hours, price_code="labour"),
        line("clean", bags, price_code="labour"),
        line("bag", bags, kind="material", unit="m³", package="bag"),
    )
    made = quote(*lines, book=book, discounts=own)
    assert made == quote(*lines[::-1], book=book, discounts=own)
    turned = quote(*lines, book=book, discounts=own[::-1])
    assert (made.subtotal, made.tax, made.total) == (turned.subtotal, turned.tax, turned.total)


@given(book=BOOKS, before=st.tuples(AMOUNTS, AMOUNTS, OWN), after=st.tuples(AMOUNTS, AMOUNTS, OWN))
def test_an_accepted_quote_and_its_change_order_make_the_new_quote(
    book: PriceBook,
    before: tuple[float, float, tuple[JobDiscount, ...]],
    after: tuple[float, float, tuple[JobDiscount, ...]],
) -> None:
    accepted, wanted = (
        _quoted(book, hours=hours, bags=bags, discounts=own) for hours, bags, own in (before, after)
    )

    order = change_order(currency="USD", accepted=shown(accepted), wanted=shown(wanted))
    assert accepted.total + order.total == wanted.total
    assert accepted.tax + order.tax == wanted.tax


def test_what_the_job_may_come_to_has_reserve_and_discounts_in_it() -> None:
    book = settled_book(
        overhead_share=Decimal("0.1"), profit_share=Decimal("0.2"), warranty_share=Decimal("0.02"),
        discounts=(SPRING, TWO_DOORS), tax_rates=TAXES,
    )  # fmt: skip
    for least in (Decimal(0), Decimal(3000)):
        made = price(
            takeoff=varying_takeoff(sd=0.0), schedule=plan(), price_book=replace(book, minimum_charge=least),
            pricing_date=DAY, rates=None,
        )  # fmt: skip
        assert made.contingency is not None
        assert abs(made.contingency.p80 - made.total) <= Decimal("0.03")


def test_a_unit_price_bears_reserve_and_discounts() -> None:
    book = settled_book(warranty_share=Decimal("0.05"), discounts=(TWO_DOORS,), tax_rates=TAXES)
    unseen = price(takeoff=unseen_takeoff(), schedule=plan(), price_book=book, pricing_date=DAY, rates=None)
    assert unseen.before_tear_out is not None
    (unit,) = unseen.before_tear_out.unit_prices
    fewer, more = (_quoted(book, hours=0.5 * bags, bags=bags) for bags in (10.0, 11.0))
    assert abs(more.subtotal - fewer.subtotal - unit.price) <= Decimal("0.02")
    assert abs(more.tax - fewer.tax - unit.tax) <= Decimal("0.02")


def test_a_place_has_its_own_rates_class_by_class_and_the_quote_names_it() -> None:
    county = TaxPlace(place="Alder County", rates={"material": Decimal("0.1")})
    book = settled_book(tax_rates=TAXES, tax_places=(county,))

    def taxed(place: str) -> Quote:
        bags = line("bag", 10.0, kind="material", unit="m³", package="bag")
        return price(
            takeoff=takeoff(line("pour", 10.0, price_code="labour"), bags), schedule=plan(), price_book=book,
            pricing_date=DAY, rates=None, tax_place=place,
        )  # fmt: skip

    own, there = taxed(""), taxed("Alder County")
    assert (own.tax, there.tax) == (Decimal("46.35"), Decimal("53.00"))  # 15.00 of labour in both
    assert (own.tax_place, there.tax_place) == ("", "Alder County")
    refused = taxed("Birch County")
    assert refused.lines == ()
    (problem,) = [each for each in refused.problems if each.severity == "refusal"]
    assert (problem.code, problem.pointer) == ("tax-place-unknown", "/site/tax_place")
    assert "Alder County" in problem.detail


@pytest.mark.parametrize(
    ("changes", "code", "where"),
    [
        ({"warranty_share": Decimal("-0.01")}, "price-negative", "warranty_share"),
        ({"discounts": (replace(SPRING, share=Decimal(-1)),)}, "price-negative", "discounts/0/share"),
        ({"discounts": (SPRING, SPRING)}, "discount-code", "discounts/1/code"),
        ({"discounts": (replace(SPRING, share=Decimal(1)),)}, "discounts-take-all", "discounts"),
        ({"tax_places": (TaxPlace(place="", rates={}),)}, "tax-place-name", "tax_places/0/place"),
        (
            {"tax_places": (TaxPlace(place="A", rates={"labour": Decimal(-1)}),)},
            "price-negative",
            "tax_places/0/rates/labour",
        ),
    ],
)
def test_what_cannot_be_refuses_the_quote_and_names_its_field(
    changes: dict[str, object], code: str, where: str
) -> None:
    made = _quoted(settled_book(**changes))
    assert made.lines == ()
    assert (code, f"/price_book/{where}") in {(each.code, each.pointer) for each in made.problems}


def test_a_book_stored_before_there_were_any_loads_and_quotes_the_same() -> None:
    book = price_book()
    stored = {name: value for name, value in msgspec.to_builtins(book).items() if name not in ADDED}
    assert msgspec.convert(stored, PriceBook, strict=False) == book
    plain = _quoted(plain_book(*PRICES))
    assert not [each for each in plain.lines if each.key == WARRANTY or each.key.code == DISCOUNT]
