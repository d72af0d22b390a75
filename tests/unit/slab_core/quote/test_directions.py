"""Each direction that a layout tried has a price: what the quote would be with that direction laid."""

from dataclasses import replace
from decimal import Decimal
from typing import Literal

import msgspec
import pytest

from slab_core.layout.model import Layout
from slab_core.materials import starter
from slab_core.money.rounding import add_up
from slab_core.quote.model import Discount, PriceBook, Quote
from slab_core.quote.price import price
from slab_core.quote.starter import price_book
from tests.laid_floors import floor_of, laid, rectangle
from tests.takeoff_jobs import plan, taken_off
from tests.unit.slab_core.quote.quotes import DAY
from tests.unit.slab_core.quote.quotes import plan as planned

FLOOR = floor_of(rectangle(0, 0, 5.3, 3.4))
LAID = laid(FLOOR)
BOOK = replace(price_book(), minimum_charge=Decimal(0))


def _dearer(layout: Layout) -> Layout:
    """As if the other direction took six square metres of boards more, so that cartons differ."""
    first, second = layout.directions
    return replace(layout, directions=(first, replace(second, bought_m2=first.bought_m2 + 6.0)))


def _as_the_other(layout: Layout) -> Layout:
    """The same boards to buy as in the other direction."""
    return replace(layout, bought_m2=layout.directions[1].bought_m2)


def _quoted(layout: Layout, book: PriceBook = BOOK) -> Quote:
    taken = taken_off((FLOOR,), (plan(FLOOR),), layouts=(layout,))
    return price(takeoff=taken, schedule=planned(), price_book=book, pricing_date=DAY, rates=starter.rates())


def _boards(quote: Quote) -> Decimal:
    return next(line.cost for line in quote.lines if line.key.code == "boards")


@pytest.mark.parametrize("kind", ["markup", "margin"])
def test_the_other_direction_is_as_much_dearer_as_a_quote_made_of_its_boards(
    kind: Literal["markup", "margin"],
) -> None:
    book = replace(
        BOOK,
        profit_kind=kind,
        warranty_share=Decimal("0.02"),
        discounts=(Discount(code="spring", what="Spring", share=Decimal("0.05")),),
    )
    layout = _dearer(LAID)
    made, other = _quoted(layout, book), _quoted(_as_the_other(layout), book)
    (floor,) = made.directions
    chosen, across = floor.choices
    assert (floor.floor, floor.chosen_by) == (LAID.floor_id, LAID.chosen_by)
    assert (chosen.boards_cost, across.boards_cost) == (_boards(made), _boards(other))
    assert across.more_cost == _boards(other) - _boards(made) > 0
    # Overhead, profit, reserve and discount are each rounded to the cent in both quotes.
    assert float(across.more_price) == pytest.approx(float(other.subtotal - made.subtotal), abs=0.05)
    assert (chosen.more_cost, chosen.more_price) == (0, 0)


def test_hours_of_laying_are_those_of_the_quote_in_every_direction_and_are_in_the_sum() -> None:
    made = _quoted(_dearer(LAID))
    laying = [line for line in made.lines if line.kind == "labour" and line.key.code in ("pre-cut", "spread")]
    assert len(laying) == 2
    (floor,) = made.directions
    for choice in floor.choices:
        assert choice.laying_ph == add_up(amounts=tuple(line.quantity for line in laying)) > 0
        assert choice.laying_cost == add_up(amounts=tuple(line.cost for line in laying)) > 0
        assert choice.cost == choice.boards_cost + choice.laying_cost


def test_a_direction_that_takes_fewer_cartons_though_another_was_taken_is_cheaper() -> None:
    first, second = LAID.directions
    layout = replace(LAID, directions=(first, replace(second, bought_m2=first.bought_m2 - 6.0)))
    (floor,) = _quoted(layout).directions
    assert floor.choices[1].more_cost < 0
    assert floor.choices[1].more_price < 0


def test_quotes_and_takeoffs_from_before_directions_have_none() -> None:
    made = _quoted(LAID)
    stored = msgspec.to_builtins(made, enc_hook=str)
    del stored["directions"]
    assert msgspec.convert(stored, Quote, strict=False).directions == ()
    assert _quoted(replace(LAID, directions=())).directions == ()
