"""What a rule of flatness leaves of one plane's bags."""

from itertools import pairwise
from math import log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slab_core.materials.slab_kinds import Believed
from slab_core.takeoff.unseen.plan import Expected
from slab_core.takeoff.unseen.rule import TABLE, gap_in_10_ft, of_the_cheapest, share_under
from slab_core.tolerance.model import Rule
from slab_core.units.lengths import METRES_PER_FOOT as FOOT_M
from slab_core.units.lengths import METRES_PER_INCH as INCH_M

EIGHTH_IN_6 = Rule(length_m=6 * FOOT_M, gap_m=INCH_M / 8)
GAPS = st.floats(INCH_M / 64, INCH_M)


def _in_10(gap_m: float) -> Rule:
    return Rule(length_m=10 * FOOT_M, gap_m=gap_m)


def _share(*rules: Rule) -> float:
    found = share_under(rules)
    assert found is not None
    return found.bags


def test_at_the_table_s_gaps_it_is_the_table_and_beyond_them_its_ends() -> None:
    for row in TABLE:
        assert _share(_in_10(row.gap_m)) == pytest.approx(row.bags)
    assert _share(_in_10(INCH_M / 32)) == TABLE[0].bags
    assert _share(_in_10(2 * INCH_M)) == TABLE[-1].bags


@given(gap_m=GAPS, wider=st.floats(1.0, 4.0))
def test_a_laxer_rule_never_asks_for_more_bags(gap_m: float, wider: float) -> None:
    assert _share(_in_10(gap_m * wider)) <= _share(_in_10(gap_m)) + 1e-12


@given(gaps=st.lists(GAPS, min_size=1, max_size=4))
def test_of_several_rules_the_strictest_counts(gaps: list[float]) -> None:
    assert _share(*map(_in_10, gaps)) == _share(_in_10(min(gaps)))


def test_an_eighth_in_six_feet_asks_for_about_as_much_as_three_sixteenths_in_ten() -> None:
    # (10 / 6) to the power 0.8 is 1.505, and 1.505 x 1/8 in is 0.188 in, by hand.
    assert gap_in_10_ft(EIGHTH_IN_6) == pytest.approx(0.188 * INCH_M, rel=2e-3)
    assert _share(EIGHTH_IN_6) == pytest.approx(TABLE[2].bags, rel=0.01)


def test_without_a_straightedge_nothing_is_said() -> None:
    assert share_under(()) is None


def test_the_table_falls_as_gaps_grow_and_never_to_more_than_a_plane() -> None:
    assert all(one.gap_m < other.gap_m and one.bags > other.bags for one, other in pairwise(TABLE))
    assert all(0.0 < row.bags < 1.0 <= row.spread for row in TABLE)


def test_what_is_believed_is_shifted_and_widened_and_worth_as_many_slabs() -> None:
    share = share_under((_in_10(5 * INCH_M / 16),))
    assert share is not None
    plane = Believed(mean=0.0, slabs=4.0, sd=0.4)
    found = of_the_cheapest(expected=Expected(bags=plane, grinding=plane), share=share)
    assert found.bags == Believed(mean=log(share.bags), slabs=4.0, sd=0.4 * share.spread)
    assert found.grinding == Believed(mean=log(share.hours), slabs=4.0, sd=0.4)
    assert found.most == plane
    assert 0.6 < share.hours < 1.0
    assert of_the_cheapest(expected=Expected(bags=plane, grinding=None), share=share).grinding is None
