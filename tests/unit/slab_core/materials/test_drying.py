"""Drying and flow times against practice: 16-24 h to 1/4 in, 24 h per further 1/4 in, and so on."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slab_core.materials import drying, starter
from slab_core.materials.model import Climate
from slab_core.units.lengths import METRES_PER_INCH as INCH_M

USUAL = Climate()


def _cover(depth_in: float, temperature_f: float = 70.0) -> float:
    climate = Climate(temperature_c=(temperature_f - 32) / 1.8)
    return drying.cover_hours(compound=starter.compound(), depth_m=depth_in * INCH_M, climate=climate)


def test_wood_follows_within_a_day_up_to_a_quarter_inch_and_a_day_later_for_the_next_quarter() -> None:
    assert 16 <= _cover(0.125) == _cover(0.25) <= 24
    assert _cover(0.5) - _cover(0.25) == pytest.approx(24)
    assert _cover(1.0) - _cover(0.25) == pytest.approx(72)


def test_below_sixty_fahrenheit_drying_takes_one_and_a_half_to_two_times_as_long() -> None:
    assert _cover(0.25, 60.5) == _cover(0.25, 70)
    assert _cover(0.25, 59.99) / _cover(0.25, 70) == pytest.approx(1.5, abs=0.001)
    assert _cover(0.25, 50) / _cover(0.25, 70) == pytest.approx(2.0)
    assert _cover(0.25, 30) == _cover(0.25, 50)


def test_flow_time_halves_for_eighteen_degrees_fahrenheit_more() -> None:
    compound = starter.compound()
    warm = drying.flow_minutes(compound=compound, climate=Climate(temperature_c=(88 - 32) / 1.8))
    usual = drying.flow_minutes(compound=compound, climate=Climate(temperature_c=(70 - 32) / 1.8))
    assert usual == pytest.approx(compound.heals_minutes)
    assert usual / warm == pytest.approx(2.0)


def test_adhesive_stays_open_for_less_time_when_hot_or_humid_and_never_for_more_than_its_limit() -> None:
    adhesive = starter.plain_adhesive()
    usual = drying.working_minutes(adhesive=adhesive, climate=USUAL)
    assert drying.working_minutes(adhesive=adhesive, climate=Climate(temperature_c=30)) < usual
    assert drying.working_minutes(adhesive=adhesive, climate=Climate(humidity=0.8)) < usual
    assert drying.working_minutes(adhesive=adhesive, climate=Climate(temperature_c=5)) == 90
    slow = replace(adhesive, working_minutes=120)
    assert drying.working_minutes(adhesive=slow, climate=Climate(temperature_c=5)) == 120


@given(st.floats(0, 0.05), st.floats(0, 0.05), st.floats(0, 35))
def test_a_deeper_pour_never_dries_sooner(a: float, b: float, celsius: float) -> None:
    climate = Climate(temperature_c=celsius)
    low, high = sorted((a, b))
    compound = starter.compound()
    first = drying.cover_hours(compound=compound, depth_m=low, climate=climate)
    assert first <= drying.cover_hours(compound=compound, depth_m=high, climate=climate)


@given(st.floats(-5, 35), st.floats(0.1, 15))
def test_colder_never_dries_or_sets_sooner(celsius: float, further: float) -> None:
    warm, cold = Climate(temperature_c=celsius), Climate(temperature_c=celsius - further)
    compound, primer = starter.compound(), starter.primer()
    for hours in (drying.walk_hours, drying.next_pour_hours, drying.flow_minutes):
        assert hours(compound=compound, climate=cold) >= hours(compound=compound, climate=warm)
    assert drying.primer_dry_hours(primer=primer, climate=cold) >= drying.primer_dry_hours(
        primer=primer, climate=warm
    )
