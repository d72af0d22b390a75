"""Splits add up to the last digit."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slab_core.money.split import split

DIGITS = st.sampled_from([0, 2, 3])
WEIGHTS = st.lists(st.decimals(min_value=0, max_value=10**7, places=2), min_size=1, max_size=30)


@given(st.integers(-(10**10), 10**10), WEIGHTS, DIGITS)
def test_the_parts_add_up_and_none_is_off_by_a_whole_step(
    steps: int, weights: list[Decimal], digits: int
) -> None:
    total = Decimal(steps).scaleb(-digits)
    parts = split(total=total, weights=tuple(weights), digits=digits)
    assert sum(Fraction(p) for p in parts) == Fraction(total)
    whole = sum(Fraction(w) for w in weights)
    for part, weight in zip(parts, weights, strict=True):
        share = Fraction(weight) / whole if whole else Fraction(1, len(weights))
        assert abs(Fraction(part) - Fraction(total) * share) < Fraction(1, 10**digits)


def test_a_hundred_in_three_gives_the_odd_cent_to_the_first() -> None:
    parts = split(total=Decimal("100.00"), weights=(Decimal(1),) * 3, digits=2)
    assert parts == (Decimal("33.34"), Decimal("33.33"), Decimal("33.33"))


def test_the_cent_goes_to_whoever_lost_most() -> None:
    parts = split(total=Decimal("0.10"), weights=(Decimal(1), Decimal(1), Decimal("1.1")), digits=2)
    assert parts == (Decimal("0.03"), Decimal("0.03"), Decimal("0.04"))


def test_a_total_finer_than_the_currency_is_refused() -> None:
    with pytest.raises(ValueError, match="more than 2 decimal places"):
        split(total=Decimal("0.125"), weights=(Decimal(1),), digits=2)


def test_a_negative_or_missing_weight_is_refused() -> None:
    with pytest.raises(ValueError, match="none below zero"):
        split(total=Decimal("1.00"), weights=(Decimal(-1), Decimal(2)), digits=2)
    with pytest.raises(ValueError, match="one or more"):
        split(total=Decimal("1.00"), weights=(), digits=2)
