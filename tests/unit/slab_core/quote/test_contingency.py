"""What a job may come to, and the allowance for it."""

from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest

from slab_core.money.rounding import add_up
from slab_core.quote.contingency import ALLOWANCE
from slab_core.quote.model import Contingency, PriceBook, Quote
from slab_core.quote.price import price
from slab_core.takeoff.model import Takeoff
from tests.unit.slab_core.quote.quotes import (
    DAY,
    PRICES,
    line,
    plain_book,
    plan,
    settled_book,
    takeoff,
    varying_takeoff,
)


def _priced(taken: Takeoff, book: PriceBook) -> Quote:
    return price(takeoff=taken, schedule=plan(), price_book=book, pricing_date=DAY, rates=None)


def _contingency(quote: Quote) -> Contingency:
    assert quote.contingency is not None
    return quote.contingency


def test_a_takeoff_without_draws_has_no_contingency() -> None:
    assert _priced(takeoff(line("clean", 1.0, price_code="labour")), settled_book()).contingency is None


def test_what_does_not_scatter_comes_to_the_quote_s_own_total() -> None:
    quote = _priced(varying_takeoff(sd=0.0), settled_book())
    found = _contingency(quote)
    assert found.p50 == found.p80 == found.p95 == quote.total == Decimal("880.00")
    assert found.within == 1.0


def test_quantiles_are_those_of_the_lognormal_that_was_drawn() -> None:
    found = _contingency(_priced(varying_takeoff(), settled_book()))
    for value, normal in ((found.cost_p50, 0.0), (found.cost_p80, 0.8416), (found.cost_p95, 1.6449)):
        assert float(value) == pytest.approx(380.0 + 500.0 * np.exp(0.2 * normal), rel=0.01)
    assert [spread.key.code for spread in found.lines] == ["clean"]


def test_overhead_profit_minimum_and_tax_are_in_what_the_customer_would_pay() -> None:
    taxes = {
        "labour": Decimal("0.05"),
        "material": Decimal("0.1"),
        "equipment": Decimal(0),
        "disposal": Decimal(0),
    }
    shares = {"overhead_share": Decimal("0.1"), "profit_share": Decimal("0.2"), "tax_rates": taxes}
    for kind, on_top in (("markup", 1.1 * 1.2), ("margin", 1.1 / 0.8)):
        quote = _priced(varying_takeoff(sd=0.0), settled_book(profit_kind=kind, **shares))
        expected = (880.0 + 0.05 * 500.0 + 0.1 * 380.0) * on_top
        assert float(_contingency(quote).p80) == pytest.approx(expected, abs=0.02)
        assert float(quote.total) == pytest.approx(expected, abs=0.02)
    assert _contingency(
        _priced(varying_takeoff(sd=0.0), settled_book(minimum_charge=Decimal(2000)))
    ).p50 == Decimal("2000.00")


@pytest.mark.parametrize("level", [Decimal("0.5"), Decimal("0.8"), Decimal("0.95")])
def test_the_allowance_makes_the_cost_keep_within_the_quote_so_often(level: Decimal) -> None:
    book = settled_book(risk_level=level)
    quote = _priced(varying_takeoff(), book)
    found = _contingency(quote)
    assert float(level) <= found.within <= float(level) + 0.001
    lines = [each for each in quote.lines if each.key == ALLOWANCE]
    assert add_up(amounts=tuple(each.cost for each in lines)) == found.allowance
    assert add_up(amounts=tuple(each.price for each in quote.lines)) == quote.subtotal
    assert quote.cost == Decimal("880.00") + found.allowance


def test_without_a_risk_level_no_allowance_is_in_the_price_and_the_sentence_says_so() -> None:
    quote = _priced(varying_takeoff(), settled_book())
    assert not [each for each in quote.lines if each.key == ALLOWANCE]
    found = _contingency(quote)
    assert 0.45 < found.within < 0.55
    ways = f"the cost keeps within it in {round(100 * found.within)} of 100 ways"
    assert found.sentence.startswith(f"No allowance is in the price: {ways}")


def test_the_sentence_names_the_allowance_and_how_often_it_does() -> None:
    quote = _priced(varying_takeoff(), settled_book(risk_level=Decimal("0.8")))
    found = _contingency(quote)
    assert f"an allowance of {found.allowance} USD at cost" in found.sentence
    assert "in 80 of 100 ways" in found.sentence


def test_prices_that_double_double_every_quantile_draw_by_draw() -> None:
    dear = tuple(replace(each, amount=2 * each.amount) for each in PRICES)
    once = _contingency(_priced(varying_takeoff(), settled_book(price_spread=Decimal("0.1"))))
    twice = _contingency(_priced(varying_takeoff(), plain_book(*dear, price_spread=Decimal("0.1"))))
    for name in ("cost_p50", "cost_p80", "cost_p95", "p50", "p80", "p95"):
        assert abs(getattr(twice, name) - 2 * getattr(once, name)) <= Decimal("0.01")


def test_material_s_prices_scatter_and_labour_s_do_not() -> None:
    found = _contingency(_priced(varying_takeoff(sd=0.0), settled_book(price_spread=Decimal("0.1"))))
    spread = next(each for each in found.lines if each.key.code == "bag")
    assert float(spread.p95) == pytest.approx(380.0 * np.exp(0.1 * 1.6449), rel=0.01)
    labour = next(each for each in found.lines if each.key.code == "clean")
    assert labour.p50 == labour.p95


def test_the_order_of_the_lines_changes_nothing() -> None:
    taken = varying_takeoff()
    assert taken.draws is not None
    turned = replace(
        taken, lines=taken.lines[::-1], draws=replace(taken.draws, line=np.array([1], dtype=np.int32))
    )
    book = settled_book(price_spread=Decimal("0.05"), risk_level=Decimal("0.8"))
    assert _priced(taken, book) == _priced(turned, book)
