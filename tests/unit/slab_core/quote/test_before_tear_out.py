"""What a quote says of a slab that nobody has seen."""

from decimal import Decimal
from math import exp, sqrt
from statistics import NormalDist

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from slab_core.quote.model import BeforeTearOut, PriceBook, Quote
from slab_core.quote.price import price
from slab_core.quote.survey_value import now_and_after
from slab_core.takeoff.model import Takeoff
from tests.unit.slab_core.quote.quotes import (
    DAY,
    line,
    plain_book,
    plan,
    quick_survey,
    settled_book,
    takeoff,
    unseen_takeoff,
    varying_takeoff,
)

NORMAL = NormalDist()
TAXES = {"labour": Decimal(0), "material": Decimal("0.07"), "equipment": Decimal(0), "disposal": Decimal(0)}


def _priced(taken: Takeoff, book: PriceBook) -> Quote:
    return price(takeoff=taken, schedule=plan(), price_book=book, pricing_date=DAY, rates=None)


def _said(quote: Quote) -> BeforeTearOut:
    assert quote.before_tear_out is not None
    return quote.before_tear_out


def test_a_surveyed_slab_has_nothing_to_say() -> None:
    assert _priced(varying_takeoff(), settled_book()).before_tear_out is None


def test_a_quote_stored_before_there_was_one_loads() -> None:
    stored = msgspec.to_builtins(_priced(varying_takeoff(), settled_book()))
    del stored["before_tear_out"]
    assert msgspec.convert(stored, Quote, strict=False).before_tear_out is None


@pytest.mark.parametrize("kind", ["markup", "margin"])
def test_a_unit_price_is_what_one_unit_more_changes_the_quote_by(kind: str) -> None:
    """By pricing the lines with one bag more, and the half hour that goes with it."""
    book = settled_book(
        overhead_share=Decimal("0.12"), profit_kind=kind, profit_share=Decimal("0.15"), tax_rates=TAXES
    )
    (unit,) = _said(_priced(unseen_takeoff(), book)).unit_prices

    def quoted(bags: float) -> Quote:
        material = line("bag", bags, kind="material", unit="m³", package="bag")
        return _priced(takeoff(material, line("pour", 0.5 * bags, price_code="labour")), book)

    fewer, more = quoted(10.0), quoted(11.0)
    assert abs(more.subtotal - fewer.subtotal - unit.price) <= Decimal("0.02")
    assert abs(more.tax - fewer.tax - unit.tax) <= Decimal("0.02")
    assert unit.cost == Decimal("63.00")  # 38 and half of 50


def test_the_sentence_tells_quantities_and_unit_prices() -> None:
    said = _said(_priced(unseen_takeoff(), settled_book())).sentence
    assert "by common practice the price reckons with 10 bags" in said
    assert "takes no more than 23 bags" in said
    assert "charged or credited at 63.00 USD a bag, before tax" in said


def _closed(*, planned: float, sd: float, level: float) -> tuple[float, float]:
    """The quantile of a lognormal and what it exceeds it by on average."""
    kept = planned * exp(sd * NORMAL.inv_cdf(level))
    d = (np.log(planned / kept) + sd**2) / sd
    overrun = planned * exp(sd**2 / 2) * NORMAL.cdf(d) - kept * NORMAL.cdf(d - sd)
    return kept, overrun


@given(sd=st.floats(0.1, 0.8), error=st.floats(0.05, 1.0), level=st.sampled_from([0.5, 0.8, 0.9]))
def test_now_and_after_are_those_of_the_lognormal(sd: float, error: float, level: float) -> None:
    """Closed forms (partial expectation of a lognormal, from memory) for one quantity; after the survey its
    median is lognormal about the planned one, and its own spread is less."""
    now, after = now_and_after(
        planned=np.array([1000.0]), log_sd=np.array([sd]), survey_sd=np.array([error]), level=level, seed=4
    )
    kept, overrun = _closed(planned=1000.0, sd=sd, level=level)
    assert now.allowance == pytest.approx(kept - 1000.0, abs=12.0)
    assert now.overrun == pytest.approx(overrun, rel=0.06, abs=3.0)
    told, left = sd**2 / sqrt(sd**2 + error**2), sd * error / sqrt(sd**2 + error**2)
    middle = 1000.0 * exp(told**2 / 2)
    kept, overrun = _closed(planned=middle, sd=left, level=level)
    assert after.allowance == pytest.approx(kept - 1000.0, abs=12.0)
    assert after.overrun == pytest.approx(overrun, rel=0.06, abs=3.0)


def test_a_survey_that_tells_nothing_saves_nothing_and_a_better_one_saves_more() -> None:
    saved = []
    for error in (1000.0, 1.0, 0.5, 0.25, 0.01):
        now, after = now_and_after(
            planned=np.array([800.0, 400.0]),
            log_sd=np.array([0.4, 0.7]),
            survey_sd=np.array([error] * 2),
            level=0.8,
            seed=1,
        )
        saved.append(now.both() - after.both())
    assert saved[0] == pytest.approx(0.0, abs=2.4)  # quantiles of 1,024 ways, to 0.2 % of the 1,200
    assert saved == sorted(saved)


def test_the_size_is_chosen_that_saves_most_beyond_its_price() -> None:
    few, many, dear = quick_survey(6, 0.45, 1.0), quick_survey(24, 0.29, 1.2), quick_survey(48, 0.25, 40.0)
    found = _said(_priced(unseen_takeoff(surveys=(few, many, dear)), settled_book(risk_level=Decimal("0.8"))))
    value = found.quick_survey
    assert (value.readings, value.survey_price) == (24, Decimal("60.00"))
    carried = value.allowance_now + value.overrun_now - value.allowance_after - value.overrun_after
    assert abs(value.saves - carried) <= Decimal("0.02")
    assert f"it saves {value.saves}, {value.saves - 60} more than its price" in value.sentence


def test_a_survey_that_costs_more_than_it_saves_is_said_not_to_pay() -> None:
    value = _said(
        _priced(unseen_takeoff(surveys=(quick_survey(12, 0.35, 80.0),)), settled_book())
    ).quick_survey
    assert value.saves < value.survey_price == Decimal("4000.00")
    assert value.sentence.endswith("less than its price: it does not pay.")


def test_what_is_unsure_is_in_the_price_at_the_firm_s_risk_level_and_in_the_cap() -> None:
    quote = _priced(unseen_takeoff(), settled_book(risk_level=Decimal("0.8"), not_to_exceed_basis="p95"))
    assert quote.contingency is not None
    assert quote.terms is not None
    assert 0.8 <= quote.contingency.within <= 0.801
    assert quote.terms.not_to_exceed == quote.contingency.p95 > quote.total
    assert quote.contingency.sentence.endswith("nobody has seen the slab, so no plan is held.")


def test_amounts_are_in_the_currency_s_own_digits() -> None:
    for digits in (0, 3):
        said = _said(_priced(unseen_takeoff(), plain_book(*settled_book().prices, digits=digits)))
        amounts = [said.unit_prices[0].price, said.quick_survey.saves, said.quick_survey.survey_price]
        assert [-amount.as_tuple().exponent for amount in amounts] == [digits] * 3  # type: ignore[operator]  # finite
