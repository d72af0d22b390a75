"""The unrestricted optimum against a dense linear programme, and what every optimum must keep."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.correction.optimum.heights import PROVEN_GAP, VIOLATION_MM, unrestricted_optimum
from slab_core.correction.optimum.model import DepthPrices
from slab_core.numerics.budget import Budget, Stopped
from slab_core.tolerance.model import Rule, RuleKind
from tests.unit.slab_core.correction.optimum.written_out import (
    DEARER_BELOW,
    NO_STEP,
    RULE,
    STEP_M,
    demand,
    dense_least_cost,
    solved,
    violation_mm,
    wavy,
)


@pytest.mark.parametrize("seed", [0, 1])
def test_chords_in_a_room_shorter_than_they_are_are_bounded_as_if_no_coarser_lattice_had_been(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    heights = np.random.default_rng(seed).normal(0.0, 2.0, (35, 35))
    wanted = demand(heights, rules=(Rule(length_m=30.0, gap_m=0.003, kind="chord"),))
    bound = unrestricted_optimum(demand=wanted, budget=Budget(), explain=False).bound
    monkeypatch.setattr("slab_core.correction.optimum.heights.FEWEST_ACROSS", 10**9)
    alone = unrestricted_optimum(demand=wanted, budget=Budget(), explain=False)
    assert alone.status == "optimal"
    assert 0.98 * alone.cost <= bound <= alone.cost * (1.0 + PROVEN_GAP)


@pytest.mark.parametrize("kind", ["both-ways", "gap-only", "chord"])
@pytest.mark.parametrize("length_m", [1.0, 1.1, 1.5])
def test_the_optimum_is_that_of_all_rows_written_out(kind: RuleKind, length_m: float) -> None:
    rule = Rule(length_m=length_m, gap_m=0.002, kind=kind)
    wanted = demand(wavy(3, shape=(6, 7)), rules=(rule,))
    least = dense_least_cost(wanted)
    found = solved(wanted)
    assert least is not None
    assert least > 0.0
    assert found.status == "optimal"
    assert found.bound <= least * (1 + 1e-9)
    assert found.cost == pytest.approx(least, rel=3e-3)


@settings(max_examples=6, deadline=None, derandomize=True)
@given(st.integers(0, 10_000))
def test_fill_less_grinding_gives_the_corrected_heights_and_they_pass(seed: int) -> None:
    wanted = demand(wavy(seed))
    found = solved(wanted)
    assert found.status == "optimal"
    np.testing.assert_allclose(
        found.corrected_mm, wanted.heights_mm + found.fill_mm - found.grind_mm, atol=1e-9
    )
    assert not ((found.fill_mm > 0.0) & (found.grind_mm > 0.0)).any()
    assert found.fill_mm.max() <= 20.0
    assert found.grind_mm.max() <= 4.0
    assert found.gap() <= PROVEN_GAP
    assert violation_mm(wanted, found.corrected_mm) <= VIOLATION_MM
    price = found.fill_mm.sum() * STEP_M**2 + float(DEARER_BELOW.of(found.grind_mm).sum()) * STEP_M**2
    assert found.cost == pytest.approx(price)


@settings(max_examples=5, deadline=None, derandomize=True)
@given(st.integers(0, 10_000))
def test_a_looser_rule_never_costs_more(seed: int) -> None:
    heights = wavy(seed)
    tight, loose = (solved(demand(heights, rules=(replace(RULE, gap_m=gap_m),))) for gap_m in (0.003, 0.0035))
    assert loose.bound <= tight.cost
    assert loose.cost <= tight.cost * (1 + PROVEN_GAP)


@settings(max_examples=5, deadline=None, derandomize=True)
@given(st.integers(0, 10_000))
def test_where_nothing_is_ground_the_least_fill_never_falls_as_the_rule_tightens(seed: int) -> None:
    """Whatever keeps a tighter rule keeps a looser one, so the least volume over the first is no smaller than
    the least over the second. Where grinding is allowed that is true of cost alone: a tighter rule may pay
    for grinding a hump that a looser one fills around."""
    heights = wavy(seed)
    wanted = [demand(heights, rules=(replace(RULE, gap_m=gap_m),)) for gap_m in (0.0035, 0.003, 0.0025)]
    nowhere = np.ones_like(heights, dtype=np.bool_)
    found = [solved(replace(one, keep_grinder_off=nowhere, greatest_fill_mm=100.0)) for one in wanted]
    litres = [float(one.fill_mm.sum()) * STEP_M**2 for one in found]
    assert litres[-1] > 0.0
    assert not any(one.grind_mm.any() for one in found)
    for k in (0, 1):
        # The tighter heights keep the looser rule as they are, so the looser bound holds for them exactly.
        assert violation_mm(wanted[k], found[k + 1].corrected_mm) < 0.0
        assert found[k].bound <= found[k + 1].cost
        assert litres[k] <= litres[k + 1] * (1 + PROVEN_GAP)


@settings(max_examples=5, deadline=None, derandomize=True)
@given(st.integers(0, 10_000))
def test_a_mirrored_room_costs_the_same_within_twice_the_gap(seed: int) -> None:
    heights = wavy(seed)
    one, other = solved(demand(heights)), solved(demand(np.ascontiguousarray(heights[:, ::-1])))
    assert abs(one.cost - other.cost) <= 2 * PROVEN_GAP * one.cost


def test_a_floor_that_passes_costs_nothing() -> None:
    y, x = np.mgrid[0:9, 0:8] * STEP_M
    found = solved(demand(np.asarray(3.0 * x - 2.0 * y + 0.5 * np.sin(x))))
    assert found.status == "optimal"
    assert (found.cost, found.bound) == (0.0, 0.0)
    assert not found.fill_mm.any()
    assert not found.grind_mm.any()


def test_a_floor_far_above_its_datum_costs_the_same() -> None:
    heights = wavy(5)
    near, far = solved(demand(heights)), solved(demand(heights + 2e5))
    assert near.status == far.status == "optimal"
    assert far.cost == pytest.approx(near.cost, rel=1e-4)


def test_a_pair_of_rules_costs_at_least_what_each_does_alone() -> None:
    heights = wavy(11)
    short = Rule(length_m=0.75, gap_m=0.0012)
    both = solved(demand(heights, rules=(RULE, short)))
    assert both.status == "optimal"
    for rule in (RULE, short):
        assert solved(demand(heights, rules=(rule,))).bound <= both.cost
    assert violation_mm(demand(heights, rules=(RULE, short)), both.corrected_mm) <= VIOLATION_MM


def test_a_coarser_lattice_as_a_start_changes_nothing_but_the_time(monkeypatch: pytest.MonkeyPatch) -> None:
    wanted = demand(wavy(5, shape=(37, 34), high_mm=3.0))
    seeded = solved(wanted)
    monkeypatch.setattr("slab_core.correction.optimum.heights.FEWEST_ACROSS", 1000)
    alone = solved(wanted)
    assert seeded.status == alone.status == "optimal"
    assert abs(seeded.cost - alone.cost) <= 2 * PROVEN_GAP * alone.cost


@pytest.mark.parametrize("most_rounds", [1, 2])
def test_work_cut_short_after_some_rounds_still_bounds_the_least_cost(most_rounds: int) -> None:
    for seed in range(5):
        given_demand = demand(wavy(seed))
        least = unrestricted_optimum(demand=given_demand, budget=Budget())
        short = unrestricted_optimum(demand=given_demand, budget=Budget(), most_rounds=most_rounds)
        assert short.rounds <= most_rounds < least.rounds
        assert short.status == "unfinished"
        assert 0.0 <= short.bound <= least.cost + NO_STEP


def test_heights_settle_where_the_rules_can_hardly_be_kept() -> None:
    """With a little less grinding nothing would do; held firm all the way, heights swung without end."""
    wanted = demand(
        wavy(1, shape=(26, 20), high_mm=9.0),
        rules=(Rule(length_m=3.05, gap_m=0.0032),),
        greatest_grind_mm=3.5,
        greatest_fill_mm=12.0,
    )
    found = unrestricted_optimum(
        demand=wanted, budget=Budget(), gap=0.01, violation_mm=0.1, explain=False, most_rounds=30
    )
    assert found.status == "optimal"
    assert violation_mm(wanted, found.corrected_mm) <= 0.1
    less = replace(wanted, greatest_grind_mm=2.5)
    assert unrestricted_optimum(demand=less, budget=Budget(), explain=False).status == "infeasible"


def test_bounds_are_found_where_heights_may_break_the_rules() -> None:
    for seed in range(5):
        given_demand = demand(wavy(seed))
        least = unrestricted_optimum(demand=given_demand, budget=Budget())
        loose = unrestricted_optimum(demand=given_demand, budget=Budget(), gap=0.02, violation_mm=np.inf)
        assert loose.rounds < least.rounds
        assert loose.bound <= least.cost + NO_STEP


def test_ranges_and_places_to_keep_off_are_kept() -> None:
    heights = wavy(7)
    off_grinder, off_fill = np.zeros((2, *heights.shape), dtype=np.bool_)
    off_grinder[:, :4], off_fill[4, 4:] = True, True
    lowest = np.full(heights.shape, -np.inf)
    lowest[0, 2:5] = heights[0, 2:5] + 2.0
    wanted = demand(
        heights,
        rules=(replace(RULE, gap_m=0.006),),
        keep_grinder_off=off_grinder,
        keep_fill_off=off_fill,
        lowest_mm=lowest,
        highest_mm=lowest + 3.0 if np.isfinite(lowest).all() else np.full(heights.shape, np.inf),
    )
    found = solved(wanted)
    assert found.status == "optimal"
    assert not found.grind_mm[off_grinder].any()
    assert not found.fill_mm[off_fill].any()
    assert (found.fill_mm[0, 2:5] >= 2.0 - 1e-9).all()


def test_what_cannot_be_met_is_proven_and_the_least_relaxations_are_told() -> None:
    heights = np.zeros((9, 8))
    heights[4, 4] = 10.0
    rise_only_by_the_peak = demand(heights, greatest_grind_mm=1.0, greatest_fill_mm=0.5)
    found = solved(rise_only_by_the_peak)
    assert dense_least_cost(rise_only_by_the_peak) is None
    assert found.status == "infeasible"
    # The peak stands 10 mm over its neighbours: 3 are allowed, 1 is ground off it, 0.5 filled around it.
    told = {relaxation.limit: relaxation.least_mm for relaxation in found.relaxations}
    assert told["gap"] == pytest.approx(5.5, abs=0.06)
    assert told["greatest-grind"] == pytest.approx(5.5, abs=0.06)
    assert told["greatest-fill"] == pytest.approx(5.5, abs=0.06)
    for limit, change in (
        ("gap", {"rules": (replace(RULE, gap_m=0.003 + told["gap"] * 1e-3 + 1e-4),)}),
        ("greatest-grind", {"greatest_grind_mm": 1.0 + told["greatest-grind"] + 0.1}),
        ("greatest-fill", {"greatest_fill_mm": 0.5 + told["greatest-fill"] + 0.1}),
    ):
        assert solved(replace(rise_only_by_the_peak, **change)).status == "optimal", limit


def test_places_to_keep_off_are_named_where_they_alone_stand_in_the_way() -> None:
    heights = np.zeros((9, 8))
    heights[4, 4] = 6.0
    everywhere = np.ones(heights.shape, dtype=np.bool_)
    found = solved(demand(heights, keep_grinder_off=everywhere, greatest_fill_mm=1.0))
    assert found.status == "infeasible"
    assert found.relaxations[0].limit == "keep-outs"
    assert found.relaxations[0].least_mm == 0.0


def test_a_range_beyond_the_caps_is_told_with_what_it_lacks() -> None:
    heights = np.zeros((9, 8))
    lowest = np.full(heights.shape, -np.inf)
    lowest[0, 0:8] = 25.0
    found = solved(demand(heights, rules=(Rule(length_m=0.5, gap_m=0.003),), lowest_mm=lowest))
    told = {relaxation.limit: relaxation.least_mm for relaxation in found.relaxations}
    assert found.status == "infeasible"
    assert "gap" not in told
    assert told["greatest-fill"] == pytest.approx(5.0, abs=0.06)
    assert told["fixed-ranges"] == pytest.approx(5.0, abs=0.06)


def test_prices_that_fall_with_depth_are_refused() -> None:
    with pytest.raises(ValueError, match="must not fall"):
        DepthPrices(breaks_mm=np.array([1.0]), per_mm=np.array([2.0, 1.0]))


def test_work_ends_when_the_caller_stops_it_or_time_is_up() -> None:
    wanted = demand(wavy(3))
    with pytest.raises(Stopped):
        unrestricted_optimum(demand=wanted, budget=Budget(stop=lambda: True))
    found = unrestricted_optimum(demand=wanted, budget=Budget(deadline_s=0.0))
    assert found.status == "unfinished"
    assert found.bound <= solved(wanted).cost


def test_at_other_prices_multipliers_of_those_prices_prove_the_optimum_at_once() -> None:
    wanted = demand(wavy(5))
    before = solved(wanted).start
    assert before is not None
    dearer = replace(wanted, fill_weight=2.5 * wanted.fill_weight, grind_weight=2.5 * wanted.grind_weight)
    begun, as_before = (
        unrestricted_optimum(demand=dearer, budget=Budget(), start=start, most_rounds=0)
        for start in (before.at_prices(2.5), before)
    )
    assert begun.bound == pytest.approx(2.5 * solved(wanted).bound, rel=2e-3)
    assert as_before.bound < 0.9 * begun.bound
