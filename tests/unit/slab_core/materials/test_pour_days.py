"""Pours on the days of a crew that places only so many bags a day."""

from math import ceil

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slab_core.materials.pour_days import by_day, day_count


@pytest.mark.parametrize(
    ("bags", "days"),
    [
        ([], 0),
        ([14], 1),
        ([17, 13], 1),
        ([17, 16], 2),
        ([16, 16, 16], 3),
        ([44], 2),
        ([44, 16], 2),
        ([90], 3),
    ],
)
def test_bays_are_poured_whole_and_only_what_is_longer_than_a_day_is_cut(bags: list[int], days: int) -> None:
    """Counted by hand at 30 bags a day: 16 + 16 does not fit, 44 leaves 16 on its second day."""
    assert day_count(bags=bags, per_day=30) == days


def test_a_long_bay_is_not_begun_for_the_last_few_bags_of_a_day() -> None:
    first, second = by_day(bags=[28, 40], per_day=30)
    assert [(share.day, share.bags) for share in first] == [(0, 28)]
    assert [(share.day, share.bags) for share in second] == [(1, 30), (2, 10)]


@given(st.lists(st.integers(1, 120), max_size=12), st.integers(1, 60))
def test_every_bag_is_poured_once_and_no_day_has_too_many(bags: list[int], per_day: int) -> None:
    found = by_day(bags=bags, per_day=per_day)
    assert [sum(share.bags for share in shares) for shares in found] == bags
    flat = [share for shares in found for share in shares]
    assert [share.day for share in flat] == sorted(share.day for share in flat)
    poured = [sum(share.bags for share in flat if share.day == day) for day in {share.day for share in flat}]
    assert all(0 < count <= per_day for count in poured)
    assert all(len(shares) == 1 for shares, count in zip(found, bags, strict=True) if count <= per_day)
    assert day_count(bags=bags, per_day=per_day) == len(poured) >= ceil(sum(bags) / per_day)


def test_a_day_that_takes_no_bag_is_an_error() -> None:
    with pytest.raises(ValueError, match="0 bags a day"):
        by_day(bags=[3], per_day=0)
