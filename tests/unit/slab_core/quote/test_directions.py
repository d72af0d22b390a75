"""Each direction that a layout tried has a price: what the quote would be with that direction laid."""

from dataclasses import replace
from decimal import Decimal
from typing import Literal

import msgspec
import pytest

from slab_core.layout.model import Layout
from slab_core.materials import starter
from slab_core.materials.rates_model import CutTimes
from slab_core.money.rounding import add_up
from slab_core.quote.model import Discount, PriceBook, Quote
from slab_core.quote.price import price
from slab_core.quote.starter import price_book
from slab_core.takeoff.model import Scope, Stock
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
    """The same boards to buy and cuts to make as in the other direction."""
    other = layout.directions[1]
    return replace(layout, bought_m2=other.bought_m2, cuts=other.cuts, ripped_m=other.ripped_m)


def _quoted(layout: Layout, book: PriceBook = BOOK) -> Quote:
    taken = taken_off((FLOOR,), (plan(FLOOR),), layouts=(layout,))
    return price(takeoff=taken, schedule=planned(), price_book=book, pricing_date=DAY, rates=starter.rates())


def _boards(quote: Quote) -> Decimal:
    return next(line.cost for line in quote.lines if line.key.code == "boards")


def _laying(quote: Quote) -> Decimal:
    return add_up(amounts=tuple(line.cost for line in quote.lines if line.key.code in ("pre-cut", "spread")))


@pytest.mark.parametrize("kind", ["markup", "margin"])
def test_the_other_direction_is_as_much_dearer_as_a_quote_made_of_its_boards_and_cuts(
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
    assert (chosen.laying_cost, across.laying_cost) == (_laying(made), _laying(other))
    assert across.more_cost == across.cost - chosen.cost > 0
    # Overhead, profit, reserve and discount are each rounded to the cent in both quotes.
    assert float(across.more_price) == pytest.approx(float(other.subtotal - made.subtotal), abs=0.05)
    assert (chosen.more_cost, chosen.more_price) == (0, 0)


def test_hours_of_laying_differ_by_the_minutes_of_cuts_and_rips() -> None:
    first, second = LAID.directions
    layout = replace(LAID, directions=(first, replace(second, cuts=first.cuts + 30, ripped_m=first.ripped_m)))
    made = _quoted(layout)
    laying = [line for line in made.lines if line.kind == "labour" and line.key.code in ("pre-cut", "spread")]
    assert len(laying) == 2
    (floor,) = made.directions
    assert floor.choices[0].laying_ph == add_up(amounts=tuple(line.quantity for line in laying)) > 0
    # Thirty cuts of two minutes are an hour.
    assert floor.choices[1].laying_ph - floor.choices[0].laying_ph == pytest.approx(1, abs=Decimal("0.0001"))
    for choice in floor.choices:
        assert choice.cost == choice.boards_cost + choice.laying_cost


def test_a_crew_that_needs_no_time_for_cuts_lays_as_long_in_every_direction() -> None:
    rates = replace(starter.rates(), cuts=CutTimes(ph=0.0, rip_ph_per_m=0.0))
    taken = taken_off((FLOOR,), (plan(FLOOR),), layouts=(LAID,), rates=rates)
    made = price(takeoff=taken, schedule=planned(), price_book=BOOK, pricing_date=DAY, rates=rates)
    assert len({choice.laying_ph for choice in made.directions[0].choices}) == 1


def test_boards_from_stock_cost_what_they_do_in_the_quote() -> None:
    scope = Scope(stock=(Stock(product=starter.covering().product, packages=3),))
    taken = taken_off((FLOOR,), (plan(FLOOR),), layouts=(LAID,), scope=scope)
    costs = {}
    for charged in (False, True):
        book = replace(BOOK, stock_priced=charged)
        made = price(
            takeoff=taken, schedule=planned(), price_book=book, pricing_date=DAY, rates=starter.rates()
        )
        stock = sum(line.cost for line in made.lines if line.key.code == "from-stock")
        costs[charged] = made.directions[0].choices[0].boards_cost
        assert costs[charged] == _boards(made) + stock
    unit = next(line.unit_cost for line in made.lines if line.key.code == "boards")
    assert costs[True] - costs[False] == 3 * unit


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
