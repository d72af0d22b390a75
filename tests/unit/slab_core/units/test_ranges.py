"""Ranges of height."""

import pytest

from slab_core.units.lengths import LengthRefused
from slab_core.units.ranges import parse_height_range


@pytest.mark.parametrize(
    "value",
    [
        '1/2" to 3/4"',
        "1/2 to 3/4 in",
        "0.5 in..0.75 in",
        "12.7 mm to 19.05mm",
        "5/8 ± 1/8 in",
        '5/8" +/- 1/8"',
        ["1/2 in", "¾ in"],
    ],
)
def test_every_writing_of_one_range_is_read_alike(value: str | list[str]) -> None:
    assert parse_height_range(value) == pytest.approx((0.0127, 0.01905), abs=1e-12)


def test_a_pair_of_numbers_is_in_the_given_unit() -> None:
    assert parse_height_range((-3, 4.5), unit="mm") == (-0.003, 0.0045)


@pytest.mark.parametrize(
    ("value", "code"),
    [
        ("3/4 in", "not-a-range"),
        ([1.0], "not-a-range"),
        (None, "not-a-range"),
        ("3/4 to 1/2 in", "range-reversed"),
        ("3/4 ± -1/8 in", "range-reversed"),
        ("1/2 to 3/4", "unit-missing"),
        ("1/2 to wide", "not-a-length"),
    ],
)
def test_what_is_not_a_range_is_refused(value: str | list[float], code: str) -> None:
    with pytest.raises(LengthRefused) as refused:
        parse_height_range(value)
    assert refused.value.code == code
