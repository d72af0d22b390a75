"""Money keeps its currency and its JSON form."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slab_core.money.currencies import digits_of
from slab_core.money.money import Money, from_json


@given(st.decimals(allow_nan=False, allow_infinity=False, places=3), st.sampled_from(["USD", "JPY", "KWD"]))
def test_money_comes_back_from_its_json_form(amount: Decimal, currency: str) -> None:
    money = Money(amount=amount, currency=currency)
    assert from_json(data=money.to_json()) == money


def test_json_holds_plain_strings() -> None:
    assert Money(amount=Decimal("1.2345E+2"), currency="USD").to_json() == {
        "amount": "123.45",
        "currency": "USD",
    }


def test_two_currencies_never_mix() -> None:
    with pytest.raises(ValueError, match="USD and EUR cannot be added"):
        Money(amount=Decimal(1), currency="USD").plus(Money(amount=Decimal(1), currency="EUR"))


def test_a_sum_and_its_rounding() -> None:
    total = Money(amount=Decimal("0.105"), currency="USD").plus(Money(amount=Decimal("0.02"), currency="USD"))
    assert total.rounded(digits=2, rounding="half-up").amount == Decimal("0.13")
    assert total.rounded(digits=2, rounding="half-even").amount == Decimal("0.12")


@pytest.mark.parametrize(
    ("data", "message"),
    [
        ({"amount": "12,50", "currency": "USD"}, "not a decimal number"),
        ({"amount": "NaN", "currency": "USD"}, "not an amount"),
        ({"amount": "1.00", "currency": "usd"}, "three capital letters"),
        ({"currency": "USD"}, "both as strings"),
    ],
)
def test_money_in_a_wrong_form_is_refused(data: dict[str, str], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        from_json(data=data)


def test_digits_of_currencies() -> None:
    # ISO 4217, from memory.
    assert [digits_of(currency=c) for c in ("USD", "EUR", "JPY", "KWD", "TND")] == [2, 2, 0, 3, 3]
    assert [digits_of(currency=c) for c in ("ISK", "CLF", "ZZZ")] == [0, 4, 2]
    with pytest.raises(ValueError, match="currency code"):
        digits_of(currency="dollar")
