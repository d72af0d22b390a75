"""What is weighed at doors that are missed: few choices, and no ramp beyond what is allowed."""

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.correction.ramps.options import Need, combinations
from slab_core.correction.ramps_model import DoorWays


@settings(max_examples=30, deadline=None)
@given(
    rises=st.lists(st.floats(-0.015, 0.015).filter(lambda rise: abs(rise) > 1e-4), min_size=1, max_size=40)
)
def test_the_choices_over_any_number_of_doors_are_few_and_change_each_door_at_most_once(
    rises: list[float],
) -> None:
    missed = tuple(Need(door=k, rise_m=rise) for k, rise in enumerate(rises))
    every = combinations(missed=missed, ways=DoorWays())
    assert 1 <= len(every) <= 63
    assert len(set(every)) == len(every)
    for one in every:
        doors = [chosen.door for chosen in one]
        assert doors == sorted(set(doors))
        assert all(rises[chosen.door] < 0.0 for chosen in one if chosen.way == "cut")
    assert max(len(one) for one in every) == len(rises)


@settings(max_examples=60, deadline=None)
@given(
    rise_mm=st.floats(-60.0, 60.0),
    hours=st.floats(0.0, 50.0),
    least=st.floats(0.3, 1.8),
    slope=st.floats(0.002, 0.05),
)
def test_no_ramp_is_steeper_shorter_or_longer_than_allowed_and_prices_change_no_choice(
    rise_mm: float, hours: float, least: float, slope: float
) -> None:
    ways = DoorWays(least_ramp_m=least, ramp_slope=slope, ramp_ph=hours)
    missed = (Need(door=0, rise_m=rise_mm * 1e-3),)
    every = combinations(missed=missed, ways=ways)
    assert every == combinations(missed=missed, ways=replace(ways, ramp_ph=0.0, transition_price=1e4))
    for (one,) in every:
        if one.way != "ramp":
            continue
        assert least - 1e-9 <= one.length_m <= ways.greatest_ramp_m + 1e-9
        assert abs(one.rise_m) <= slope * one.length_m + 1e-9
        assert one.rise_m * rise_mm >= 0.0
