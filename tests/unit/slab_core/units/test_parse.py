"""Lengths as people write them."""

from contextlib import suppress
from fractions import Fraction
from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slab_core.units.display import feet_inches, inches, millimetres
from slab_core.units.lengths import METRES_PER_INCH, LengthRefused, LengthUnit, to_nanometres
from slab_core.units.parse import parse_length, read_unit

TWELVE_THREE_FIVE_EIGHTHS = float(Fraction(147 * 8 + 5, 8) * Fraction(254, 10_000))


@pytest.mark.parametrize(
    "text",
    [
        "12' 3-5/8\"",
        "12'-3 5/8\"",
        "12'3-5/8\"",
        "12' - 3 - 5/8\"",
        "12 ft 3 5/8 in",
        "12 ft. 3-5/8 in.",
        "12ft 3 5/8in",
        "12 FEET 3-5/8 Inches",
        "12′ 3⅝″",
        "12’ 3 ⅝”",
        "12' 3 5/8",
        "12' 3\" 5/8",
        "12' 3 5⁄8''",
        "  +12'  3-5/8\"  ",
        '147-5/8"',
        "147.625 in",
        '1181/8"',
        "12' 3.625\"",
    ],
)
def test_every_customary_writing_of_one_length_is_read_alike(text: str) -> None:
    assert parse_length(text) == TWELVE_THREE_FIVE_EIGHTHS


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ('5/8"', 0.015875),
        ("½ in", 0.0127),
        ("12½ in", 0.3175),
        ("0' 5/8\"", 0.015875),
        ("12.5'", 3.81),
        ("3.75 m", 3.75),
        ("375cm", 3.75),
        ("3750 mm", 3.75),
        ("3 m 75 cm", 3.75),
        ("3 m 7 cm 5 mm", 3.075),
        (".5 m", 0.5),
        ("1e-3 m", 0.001),
        ("-12' 6\"", -3.81),
        ("−3 mm", -0.003),
        ("0", 0.0),
    ],
)
def test_other_writings_have_their_exact_value(text: str, metres: float) -> None:
    assert parse_length(text, unit="m") == metres


@pytest.mark.parametrize(
    ("value", "unit", "metres"),
    [
        (12.5, "ft", 3.81),
        (3, "m", 3.0),
        ("5/8", "in", 0.015875),
        ("12 1/2", "ft", 3.81),
        (418.617, "mm", 0.418617),
    ],
)
def test_a_number_without_a_unit_is_in_the_given_unit(
    value: float | str, unit: LengthUnit, metres: float
) -> None:
    assert parse_length(value, unit=unit) == metres


@pytest.mark.parametrize(
    ("value", "code", "says"),
    [
        (12.5, "unit-missing", "12.5"),
        ("12.5", "unit-missing", "12.5"),
        ("3 furlongs", "unknown-unit", "furlongs"),
        ("5 km", "unknown-unit", "mm, ft or ', in"),
        ("1,5 m", "unclear-comma", "write 1.5"),
        ("1,250 mm", "unclear-comma", "1500"),
        (nan, "not-finite", "nan"),
        (-inf, "not-finite", "inf"),
        ("NaN", "not-finite", "NaN"),
        ("-inf", "not-finite", "inf"),
        (10**400, "not-finite", "inf"),
        ("3/0 in", "not-a-fraction", "zero"),
        ("3 9/8 in", "not-a-fraction", "9/8"),
        ("12' 14\"", "parts-out-of-order", "12' 14"),
        ("12.5' 3\"", "parts-out-of-order", "whole"),
        ("3 in 2 ft", "parts-out-of-order", "larger"),
        ("3 in 2 in", "parts-out-of-order", "larger"),
        ('3" 5/8" 1/8', "parts-out-of-order", "whole"),
        ("12-3-5/8", "not-a-length", "12' 3-5/8"),
        ("12-3 5/8 in", "not-a-length", "12-3"),
        ("1 250 mm", "not-a-length", "1 250"),
        ("3 m 25", "not-a-length", "3 m 25"),
        ("3 m - 25 cm", "not-a-length", "3 m - 25"),
        ("12' 3-", "not-a-length", "12' 3-"),
        ("12 ft, 3 in", "unclear-comma", "comma"),
        ("", "not-a-length", "“”"),
        ("--3 in", "not-a-length", "--3"),
        ("wide", "not-a-length", "wide"),
        ("٣ m", "not-a-length", "write"),
        ("1e999999999 m", "unknown-unit", "“e”"),
        ("9" * 65 + " m", "not-a-length", "67 characters"),
        (True, "not-a-length", "True"),
        (None, "not-a-length", "None"),
    ],
)
def test_what_is_not_clearly_a_length_is_refused_with_a_code_and_advice(
    value: str | float, code: str, says: str
) -> None:
    unit: LengthUnit | None = "m" if code == "not-finite" else None
    unit = "ft" if value == "12-3-5/8" else unit
    with pytest.raises(LengthRefused) as refused:
        parse_length(value, unit=unit)
    assert (refused.value.code, says in refused.value.detail) == (code, True), refused.value.detail


@pytest.mark.parametrize(("name", "unit"), [("Feet", "ft"), ("″", "in"), ("metres", "m"), ("in.", "in")])
def test_names_of_units_are_read(name: str, unit: str) -> None:
    assert read_unit(name) == unit


@given(st.integers(-(10**6), 10**6))
def test_a_64th_of_an_inch_is_a_whole_number_of_nanometres(sixty_fourths: int) -> None:
    text = inches(float(Fraction(sixty_fourths, 64) * Fraction(254, 10_000)), denominator=64)
    assert to_nanometres(parse_length(text)) == sixty_fourths * 396_875


@given(st.floats(-500, 500), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_feet_and_inches_come_back_within_half_a_graduation(metres: float, denominator: int) -> None:
    back = parse_length(feet_inches(metres, denominator=denominator))
    assert abs(back - metres) <= METRES_PER_INCH / denominator / 2 + 1e-9


@given(st.floats(-500, 500))
def test_millimetres_come_back_within_half_a_step(metres: float) -> None:
    assert abs(parse_length(millimetres(metres, decimals=3)) - metres) <= 0.5e-6 + 1e-9


@given(st.floats(-1e6, 1e6), st.sampled_from(["m", "cm", "mm", "ft", "in"]))
def test_a_number_and_its_text_are_one_length_to_the_last_bit(number: float, unit: LengthUnit) -> None:
    if abs(number) >= 1e-99 or number == 0:
        assert parse_length(f"{number!r} {unit}") == parse_length(number, unit=unit)


@given(st.text(max_size=70))
def test_no_text_does_anything_but_give_a_finite_length_or_a_refusal(text: str) -> None:
    with suppress(LengthRefused):
        assert abs(parse_length(text, unit="m")) < inf
