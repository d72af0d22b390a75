"""Conversions against definitions that the code does not use."""

import pytest

from slab_core.units import conversions as c


def test_areas_and_volumes_follow_from_the_inch() -> None:
    inch_m = 0.0254
    assert pytest.approx((12 * inch_m) ** 2, rel=1e-14) == c.SQUARE_METRES_PER_SQUARE_FOOT
    assert pytest.approx((12 * inch_m) ** 3, rel=1e-14) == c.CUBIC_METRES_PER_CUBIC_FOOT
    assert pytest.approx(231 * inch_m**3 * 1000, rel=1e-14) == c.LITRES_PER_US_GALLON  # 231 in³
    assert pytest.approx(231 * inch_m**3, rel=1e-14) == c.CUBIC_METRES_PER_US_GALLON
    assert c.LITRES_PER_US_QUART == c.LITRES_PER_US_GALLON / 4


def test_a_gallon_an_eighth_of_an_inch_thick_covers_12_8_square_feet() -> None:
    # 231 in³ at 1/8 in over 144 in² a square foot (1.604 ft² per inch of film)
    assert c.square_feet_per_gallon(1 / (0.125 * 25.4)) == pytest.approx(231 / 144 / 0.125, rel=1e-12)
    assert c.square_metres_per_litre(c.square_feet_per_gallon(1.2)) == pytest.approx(1.2)


def test_quantities_for_people_are_the_inverse_of_the_constants() -> None:
    assert c.square_feet(27.870912) == pytest.approx(300.0)
    assert c.cubic_feet(0.45 * 0.028316846592) == pytest.approx(0.45)
    assert c.us_gallons(3.785411784 * 5) == pytest.approx(5.0)
    assert c.pounds(22.6796185) == pytest.approx(50.0)


def test_the_two_scales_of_temperature_meet_at_minus_forty() -> None:
    assert c.celsius(-40.0) == c.fahrenheit(-40.0) == -40.0
    assert c.celsius(70.0) == pytest.approx(21.111, abs=1e-3)
    assert c.fahrenheit(100.0) == 212.0
