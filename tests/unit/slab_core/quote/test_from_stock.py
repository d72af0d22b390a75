"""Stock is free unless the price book charges it; then it has a line of its own, and no supplier gets it."""

from dataclasses import replace
from decimal import Decimal

import msgspec
import pytest

from slab_core.materials import starter
from slab_core.materials.model import Climate
from slab_core.money.rounding import add_up
from slab_core.numerics.budget import Budget
from slab_core.quote.from_stock import STOCK
from slab_core.quote.model import PriceBook, Quote, QuoteLine
from slab_core.quote.price import price
from slab_core.quote.starter import price_book
from slab_core.schedule.plan import schedule
from slab_core.schedule.starter import calendar
from slab_core.takeoff.model import Scope, Stock, Takeoff
from tests.takeoff_jobs import plan, pour, taken_off
from tests.unit.slab_core.schedule.plans import CHICAGO, MONDAY
from tests.unit.slab_core.takeoff.test_take_off import FLOOR

COMPOUND, PRIMER = starter.compound().id, starter.primer().id
MADE = plan(FLOOR, pours=(pour(bags=10, ft2=200, border_ft=40),), pour_days=1)
FREE = price_book()
CHARGED = replace(FREE, stock_priced=True)
HAD = (Stock(product=COMPOUND, packages=4), Stock(product=PRIMER, packages=1))
ALL = (Stock(product=COMPOUND, packages=500),)


def _taken(*stock: Stock) -> Takeoff:
    return taken_off((FLOOR,), (MADE,), scope=Scope(stock=stock))


def _quoted(takeoff: Takeoff, book: PriceBook) -> Quote:
    catalogue = starter.catalogue()
    made = schedule(
        takeoff=takeoff, rates=starter.rates(), climate=Climate(), compound=catalogue.compound,
        primer=catalogue.primer, adhesive=catalogue.adhesive, calendar=calendar(time_zone=CHICAGO),
        earliest_start=MONDAY, budget=Budget(),
        lead_days=catalogue.lead_days(starter.covering()),
    )  # fmt: skip
    return price(
        takeoff=takeoff, schedule=made, price_book=book, pricing_date=book.valid_from, rates=starter.rates()
    )


def _stock(made: Quote) -> dict[str, QuoteLine]:
    return {line.key.product: line for line in made.lines if line.key.code == STOCK}


def test_stock_is_free_unless_the_book_says_so_and_a_job_without_stock_costs_the_same_either_way() -> None:
    assert not _stock(_quoted(_taken(*HAD), FREE))
    plain = _taken()
    assert _quoted(plain, FREE) == _quoted(plain, CHARGED)


@pytest.mark.parametrize("stock", [HAD, ALL])
def test_charged_stock_costs_what_buying_it_again_would_cost(stock: tuple[Stock, ...]) -> None:
    takeoff = _taken(*stock)
    free, charged, bought = (
        _quoted(takeoff, FREE),
        _quoted(takeoff, CHARGED),
        _quoted(_taken(), FREE),
    )
    assert free.cost < charged.cost == bought.cost
    prices = {each.code: each.amount for each in FREE.prices}
    for product, line in _stock(charged).items():
        taken = sum(each.from_stock for each in takeoff.lines if each.key.product == product)
        assert line.quantity == Decimal(str(taken))
        assert line.cost == line.quantity * prices[product]
        assert line.what.endswith(", from stock")
        assert line.tax > 0
    assert set(_stock(charged)) == {each.product for each in stock}


def test_the_lines_of_what_is_bought_stay_as_they_are() -> None:
    takeoff = _taken(*HAD)
    free, charged = _quoted(takeoff, FREE), _quoted(takeoff, CHARGED)
    costs = {line.key: (line.quantity, line.cost) for line in free.lines}
    for line in charged.lines:
        if line.key.code != STOCK:
            assert costs[line.key] == (line.quantity, line.cost)


def test_suppliers_are_paid_for_what_is_bought_and_not_for_stock() -> None:
    made = _quoted(_taken(*HAD), CHARGED)
    of_stock = add_up(amounts=tuple(line.cost for line in _stock(made).values()))
    material = add_up(amounts=tuple(line.cost for line in made.lines if line.kind == "material"))
    paid = add_up(amounts=tuple(one.amount for one in made.supplier_payments))
    assert of_stock > 0
    assert paid + of_stock == material


def test_lines_add_up_to_the_totals_and_every_line_tells_where_its_packages_go() -> None:
    made = _quoted(_taken(*HAD), CHARGED)
    assert add_up(amounts=tuple(line.price for line in made.lines)) == made.subtotal
    (compound,) = [line for line in _stock(made).values() if line.key.product == COMPOUND]
    told = [float(text.split()[0]) for text in compound.trace.inputs.values() if text.endswith(" bag")]
    assert 4.0 in told


def test_a_book_from_before_stock_had_a_price_leaves_it_free() -> None:
    stored = msgspec.to_builtins(CHARGED)
    del stored["stock_priced"]
    assert msgspec.convert(stored, PriceBook, strict=False) == FREE
