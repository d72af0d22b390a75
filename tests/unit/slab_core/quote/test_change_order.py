"""What changes between an accepted quote and the wanted one."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slab_core.quote.change_order import Cause, ChangeOrder, change_order
from slab_core.quote.change_words import PricedLine
from slab_core.quote.model import Quote
from tests.unit.slab_core.quote.quotes import line, plain_book, quote

BAGS = PricedLine(
    key="compound/living/1/levelling-compound",
    kind="material",
    what="Levelling compound",
    quantity=Decimal(14),
    unit="bag",
    unit_cost=Decimal("38.00"),
    price=Decimal("610.40"),
    tax=Decimal("42.73"),
    inputs={"bay 1": "8 bags", "bay 2": "6 bags", "quantity": "14 bag"},
)


def _order(accepted: tuple[PricedLine, ...], wanted: tuple[PricedLine, ...]) -> ChangeOrder:
    return change_order(currency="USD", accepted=accepted, wanted=wanted)


def _lines_of(made: Quote) -> tuple[PricedLine, ...]:
    return tuple(
        PricedLine(
            key=each.key.text(),
            kind=each.kind,
            what=each.what,
            quantity=each.quantity,
            unit=each.unit,
            unit_cost=each.unit_cost,
            price=each.price,
            tax=each.tax,
            inputs=each.trace.inputs,
        )
        for each in made.lines
    )


def test_the_same_quote_changes_nothing() -> None:
    found = _order((BAGS,), (BAGS,))
    assert found.lines == ()
    assert found.total == Decimal(0)
    assert found.total_before == found.total_after == Decimal("653.13")


def test_more_bags_say_how_many_and_which_inputs_made_it_so() -> None:
    more = replace(
        BAGS,
        quantity=Decimal(17),
        price=Decimal("741.20"),
        tax=Decimal("51.88"),
        inputs=BAGS.inputs | {"bay 2": "9 bags", "quantity": "17 bag"},
    )
    (changed,) = _order((BAGS,), (more,)).lines
    assert changed.reason == "14 became 17 bag (bay 2 6 bags -> 9 bags)"
    assert (changed.price, changed.tax) == (Decimal("130.80"), Decimal("9.15"))


def test_a_slab_that_is_measured_now_is_set_beside_how_it_was_taken_without_ids_and_formulas() -> None:
    unseen = replace(
        BAGS,
        inputs={
            "slab": "not seen yet: usual for slabs under carpet, age old", "allowed-1-1": "14 bags",
            "filled area": "9.5 m²", "quantity from takeoff": "sum over pours", "quantity": "14 bag",
        },
    )  # fmt: skip
    measured = replace(
        BAGS,
        quantity=Decimal(17),
        inputs={
            "2f1c-bay1": "17 bags", "filled area": "12.6 m²", "quantity from correction": "sum over pours",
            "quantity": "17 bag",
        },
    )  # fmt: skip
    (changed,) = _order((unseen,), (measured,)).lines
    assert changed.reason == (
        "14 became 17 bag (the slab is measured now, before it was taken as usual for slabs under carpet, "
        "age old, filled area 9.5 m² -> 12.6 m²)"
    )


def test_hours_are_told_in_words() -> None:
    hours = replace(BAGS, unit="PH", quantity=Decimal(3), inputs={})
    (changed,) = _order((hours,), (replace(hours, quantity=Decimal(4)),)).lines
    assert changed.reason == "3 became 4 person-hours"


def test_a_dearer_bag_is_told_from_more_bags() -> None:
    dear = replace(BAGS, unit_cost=Decimal("41.00"), price=Decimal("658.60"))
    (changed,) = _order((BAGS,), (dear,)).lines
    assert changed.reason == "its unit cost rose"
    assert (changed.unit_cost_before, changed.unit_cost_after) == (Decimal("38.00"), Decimal("41.00"))


def test_no_reason_tells_what_it_costs_the_firm() -> None:
    allowance = replace(
        BAGS, key="allowance/-/0/-", kind="adjustment", unit_cost=Decimal("778.03"), inputs={}
    )
    less = replace(allowance, unit_cost=Decimal("530.84"), price=Decimal("400.00"))
    (changed,) = _order((allowance,), (less,)).lines
    assert changed.reason == "its amount fell"


def test_new_and_dropped_lines_stand_in_it_whole() -> None:
    patch = replace(BAGS, key="patch/living/1/patch", what="Patch")
    gone, new = sorted(_order((BAGS,), (patch,)).lines, key=lambda changed: changed.price)
    assert (gone.price, gone.quantity_after, gone.reason) == (
        Decimal("-610.40"), Decimal(0), "it is no longer needed",
    )  # fmt: skip
    assert (new.price, new.quantity_before) == (Decimal("610.40"), Decimal(0))
    assert new.reason == "it was not in what was accepted"


def test_a_line_that_only_bears_another_share_says_so() -> None:
    (changed,) = _order((BAGS,), (replace(BAGS, price=Decimal("611.00")),)).lines
    assert changed.reason == "its share of overhead, profit, rounding or tax"


def test_a_line_that_a_quote_has_twice_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="compound/living/1/levelling-compound"):
        _order((BAGS, BAGS), ())


QUANTITIES = st.lists(st.floats(0.0, 60.0), min_size=3, max_size=3)
CENTS = st.integers(0, 20_000).map(lambda cents: Decimal(cents) / 100)


@given(before=QUANTITIES, after=QUANTITIES, least=CENTS, rate=st.sampled_from(["0", "0.07", "0.0825"]))
def test_the_accepted_quote_and_the_order_make_the_new_quote_to_the_cent(
    before: list[float], after: list[float], least: Decimal, rate: str
) -> None:
    """Rounding, tax and a minimum charge included."""
    taxes = dict.fromkeys(("labour", "material", "equipment", "disposal"), Decimal(rate))
    changes: dict[str, Any] = {
        "minimum_charge": least,
        "tax_rates": taxes,
        "overhead_share": Decimal("0.123"),
        "profit_share": Decimal("0.157"),
    }
    book = plain_book(**changes)
    codes = ("clean", "verify", "prime")

    def priced(hours: list[float]) -> Quote:
        lines = [line(code, h, price_code="labour") for code, h in zip(codes, hours, strict=True) if h > 1.0]
        return quote(*lines, book=book)

    accepted, wanted = priced(before), priced(after)
    found = _order(_lines_of(accepted), _lines_of(wanted))
    assert accepted.total + found.total == wanted.total
    assert accepted.subtotal + found.subtotal == wanted.subtotal
    assert accepted.tax + found.tax == wanted.tax
    assert (found.total_before, found.total_after) == (accepted.total, wanted.total)


def _cause(before: PricedLine, after: PricedLine, *causes: Cause) -> str:
    order = change_order(currency="USD", accepted=(before,), wanted=(after,), causes=frozenset(causes))
    return order.lines[0].cause


def test_a_line_has_the_one_cause_that_there_is_and_one_that_bears_another_share_follows() -> None:
    more = replace(BAGS, quantity=Decimal(18), price=Decimal("784.80"))
    assert _cause(BAGS, more, "survey") == "survey"
    assert _cause(BAGS, more, "wish") == "wish"
    assert _cause(BAGS, replace(BAGS, price=Decimal("611.00")), "survey", "wish") == "follows"
    dearer = replace(BAGS, unit_cost=Decimal("41.00"), price=Decimal("650.00"))
    assert _cause(BAGS, dearer, "survey", "prices") == "prices"
    assert _cause(BAGS, more) == "unknown"


@pytest.mark.parametrize(
    ("stage", "cause"), [("correction", "survey"), ("rooms", "wish"), ("takeoff", "unknown")]
)
def test_of_several_causes_it_is_the_one_that_the_quantity_comes_from(stage: str, cause: str) -> None:
    before = replace(BAGS, inputs={**BAGS.inputs, f"quantity from {stage}": "area / rate"})
    assert _cause(before, replace(before, quantity=Decimal(18)), "survey", "wish", "prices") == cause
