"""The short form of the storm; the long one is `python3 dev.py chaos`."""

import pytest

from tests.chaos.house import house_of
from tests.chaos.storm import rage


@pytest.mark.long
def test_nothing_is_lost_or_doubled_in_a_short_storm() -> None:
    with house_of(seed=20) as house:
        verdict = rage(house=house, seconds=30)
        assert verdict.is_clean, f"{verdict}\n{house.crew.log()[-4000:]}"
    assert verdict.acknowledged > 100
