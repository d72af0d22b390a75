"""The unrestricted optimum against a dense linear programme, and what every optimum must keep."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from slab_core.correction.optimum.heights import PROVEN_GAP, VIOLATION_MM, unrestricted_optimum
from slab_core.correction.optimum.model import Demand, DepthPrices, Optimum
from slab_core.numerics.budget import Budget, Stopped
from slab_core.numerics.grid import Floats, Grid
from slab_core.tolerance.lattice import DIRECTIONS, free_steps
from slab_core.tolerance.model import Rule, RuleKind
from slab_core.tolerance.straightedge import departures
from tests.slabs import rectangle

STEP_M = 0.25
RULE = Rule(length_m=1.5, gap_m=0.003)
FLAT_PRICES = DepthPrices(breaks_mm=np.zeros(0), per_mm=np.array([1.0]))
DEARER_BELOW = DepthPrices(breaks_mm=np.array([1.0]), per_mm=np.array([2.0, 5.0]))
NO_STEP = 1e-9


def demand(heights_mm: Floats, *, rules: tuple[Rule, ...] = (RULE,), **changes: Any) -> Demand:
    """A rectangular floor with these heights on its nodes."""
    ny, nx = heights_mm.shape
    inside = np.ones(heights_mm.shape, dtype=np.bool_)
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=STEP_M, nx=nx, ny=ny)
    floor = rectangle((nx - 1) * STEP_M, (ny - 1) * STEP_M)
    usual = Demand(
        step_m=STEP_M,
        heights_mm=heights_mm,
        inside=inside,
        free=free_steps(floor=floor, grid=grid, inside=inside),
        rules=rules,
        fill_weight=np.full(heights_mm.shape, STEP_M**2),
        grind_weight=np.full(heights_mm.shape, STEP_M**2),
        fill_prices=FLAT_PRICES,
        grind_prices=DEARER_BELOW,
        greatest_grind_mm=4.0,
        greatest_fill_mm=20.0,
        keep_grinder_off=~inside,
        keep_fill_off=~inside,
        lowest_mm=np.full(heights_mm.shape, -np.inf),
        highest_mm=np.full(heights_mm.shape, np.inf),
    )
    return replace(usual, **changes)


def wavy(seed: int, *, shape: tuple[int, int] = (9, 8), high_mm: float = 5.0) -> Floats:
    """A tilted slab with a wave and roughness."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]] * STEP_M
    direction, length = rng.uniform(0, np.pi), rng.uniform(1.0, 2.5)
    along = x * np.cos(direction) + y * np.sin(direction)
    wave = high_mm * np.sin(2 * np.pi * along / length + rng.uniform(0, 6.28))
    return np.asarray(wave + 2.0 * x + rng.normal(0.0, 0.5, shape), dtype=np.float64)


def solved(wanted: Demand) -> Optimum:
    return unrestricted_optimum(demand=wanted, budget=Budget())


def violation_mm(wanted: Demand, corrected_mm: Floats) -> float:
    """By how much the worst departure exceeds its rule, by the tolerance code."""
    ny, nx = corrected_mm.shape
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=wanted.step_m, nx=nx, ny=ny)
    return max(
        float(
            1e3
            * (
                departures(
                    grid=grid, heights_m=corrected_mm * 1e-3, free=wanted.free, rule=rule, budget=Budget()
                )
                .larger_m()
                .max()
                - rule.gap_m
            )
        )
        for rule in wanted.rules
    )


def dense_least_cost(wanted: Demand) -> float | None:
    """The same optimum with every pair of supports written out as a row, solved by another solver.

    Columns: fill, the first slice of grinding, the rest of it.
    """
    ny, nx = wanted.heights_mm.shape
    n = nx * ny
    rows, limits = [], []

    def lie(points: list[tuple[int, int, float]], gap_mm: float, side: float) -> None:
        row, rest = np.zeros(3 * n), gap_mm
        for j, i, share in points:
            k = j * nx + i
            row[[k, n + k, 2 * n + k]] += side * share * np.array([1.0, -1.0, -1.0])
            rest -= side * share * wanted.heights_mm[j, i]
        rows.append(row)
        limits.append(rest)

    def between(j: int, i: int, dx: int, dy: int, at: float, share: float) -> list[tuple[int, int, float]]:
        low = int(np.floor(at + NO_STEP))
        part = at - low if at - low > NO_STEP else 0.0
        found = [(j + low * dy, i + low * dx, share * (1.0 - part))]
        return [*found, (j + (low + 1) * dy, i + (low + 1) * dx, share * part)] if part else found

    for rule in wanted.rules:
        sides = (1.0,) if rule.kind == "gap-only" else (1.0, -1.0)
        for dx, dy in DIRECTIONS:
            span = rule.length_m / (STEP_M * np.hypot(dx, dy))
            for j in range(ny):
                for i in range(nx):
                    steps = [0]
                    while 0 <= i + steps[-1] * dx + dx < nx and j + steps[-1] * dy + dy < ny:
                        steps.append(steps[-1] + 1)
                    starts_run = not (0 <= i - dx < nx and j - dy >= 0)
                    last = steps[-1]
                    if not starts_run or last < 2:
                        continue
                    whole = last <= span + NO_STEP
                    pairs = [(0.0, float(last))] if whole else []
                    for e in [] if whole else steps:
                        pairs += [(e, e + span)] if e + span <= last + NO_STEP else []
                        pairs += [(e - span, float(e))] if e - span >= -NO_STEP else []
                    for a, b in pairs:
                        inner = [a, *range(int(np.floor(a + NO_STEP)) + 1, int(np.ceil(b - NO_STEP))), b]
                        supports = [(a, b)] if rule.kind == "chord" else [
                            (p, q) for p in inner for q in inner if p < q
                        ]  # fmt: skip
                        for p, q in supports:
                            for k in range(int(np.floor(p + NO_STEP)) + 1, int(np.ceil(q - NO_STEP))):
                                share = (q - k) / (q - p)
                                points = between(j, i, dx, dy, p, share)
                                points += between(j, i, dx, dy, q, 1.0 - share)
                                points.append((j + k * dy, i + k * dx, -1.0))
                                for side in sides:
                                    lie(points, rule.gap_m * 1e3, side)
    weight = STEP_M**2
    cost = weight * np.repeat([1.0, 2.0, 5.0], n)
    bounds = [(0.0, wanted.greatest_fill_mm)] * n + [(0.0, 1.0)] * n
    bounds += [(0.0, wanted.greatest_grind_mm - 1.0)] * n
    found = linprog(cost, A_ub=np.array(rows), b_ub=np.array(limits), bounds=bounds, method="highs")
    return None if found.fun is None else float(found.fun)


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
