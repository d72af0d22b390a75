"""Quantities against hand calculation. Ranges are common practice, no single source."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slab_core.materials import starter
from slab_core.takeoff.board_supplies import adhesive_litres
from slab_core.takeoff.brief import is_tight, moisture_test_count
from slab_core.takeoff.entries import whole_packages
from slab_core.takeoff.slab_supplies import primer_litres
from slab_core.tolerance.model import Rule
from slab_core.units.conversions import SQUARE_METRES_PER_SQUARE_FOOT as FOOT2_M2
from slab_core.units.conversions import us_gallons
from slab_core.units.lengths import METRES_PER_FOOT as FOOT_M
from slab_core.units.lengths import METRES_PER_INCH as INCH_M


def test_primer_for_420_square_feet_in_two_coats_and_180_again_is_3_4_to_5_1_gallons() -> None:
    litres = primer_litres(
        primer=starter.primer(),
        slab_m2=420 * FOOT2_M2,
        coats=2,
        porous=True,
        reprimed_m2=180 * FOOT2_M2,
    )
    assert 3.4 <= us_gallons(litres) <= 5.1
    assert us_gallons(litres) == pytest.approx((2 * 420 + 180) / 250)


def test_a_dense_slab_takes_less_primer() -> None:
    primer = starter.primer()
    dense = primer_litres(primer=primer, slab_m2=10.0, coats=1, porous=False, reprimed_m2=0.0)
    assert dense == pytest.approx(10.0 / primer.coverage_dense_m2_per_l)


@pytest.mark.parametrize(
    ("adhesive", "low", "high"),
    [(starter.plain_adhesive(), 10.0, 12.0), (starter.barrier_adhesive(), 15.5, 22.0)],
)
def test_adhesive_for_520_square_feet(adhesive: object, low: float, high: float) -> None:
    assert isinstance(adhesive, type(starter.plain_adhesive()))
    litres = adhesive_litres(adhesive=adhesive, glued_m2=520 * FOOT2_M2) * (1 + adhesive.loss_share)
    assert low <= us_gallons(litres) <= high


@pytest.mark.parametrize(
    ("ft2", "tests"), [(200, 3), (1000, 3), (1001, 4), (2000, 4), (2001, 5), (10_000, 12)]
)
def test_humidity_tests_are_three_for_the_first_thousand_feet_and_one_for_each_more(
    ft2: float, tests: int
) -> None:
    """ASTM F2170-09 §10.1, as quoted by two instrument manuals."""
    assert moisture_test_count(floor_m2=ft2 * FOOT2_M2) == tests
    assert moisture_test_count(floor_m2=ft2 * FOOT2_M2, exterior_walls=2) == tests
    assert moisture_test_count(floor_m2=ft2 * FOOT2_M2, exterior_walls=15) == 15


def test_packages_are_rounded_up_but_not_for_the_last_bit_of_a_float() -> None:
    assert whole_packages(net=0.1 * 3, waste_share=0.0, size=0.1) == 3
    assert whole_packages(net=3.0001, waste_share=0.0, size=1.0) == 4
    assert whole_packages(net=10.0, waste_share=0.1, size=1.0) == 11


@given(st.floats(0.0, 1e4), st.floats(0.0, 0.5), st.floats(0.01, 100.0))
def test_an_order_holds_what_is_needed_and_less_than_a_package_more(
    net: float, waste: float, size: float
) -> None:
    held = whole_packages(net=net, waste_share=waste, size=size) * size
    needed = net * (1 + waste)
    assert needed - 1e-6 * size <= held < needed + size


def test_a_rule_of_a_sixteenth_over_twenty_feet_is_tight_and_the_usual_one_is_not() -> None:
    tight = Rule(length_m=20 * FOOT_M, gap_m=INCH_M / 16)
    assert is_tight(tight)
    assert not is_tight(Rule(length_m=10 * FOOT_M, gap_m=3 * INCH_M / 16))
    # A short rule against lips is no reason to polish the whole floor.
    assert not is_tight(replace(tight, length_m=2 * FOOT_M, gap_m=INCH_M / 32))
