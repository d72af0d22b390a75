"""The cheapest plane on slabs whose answer is known."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.correction.model import Limits, Plan
from slab_core.correction.work import SKIN_MM
from slab_core.materials import starter
from slab_core.numerics.grid import Floats
from slab_core.tolerance.model import Rule
from tests.invented_floors import FOOT_M, INCH_M, LIFTED, Work, rectangle, trough, work

WIDE_M, LONG_M = 3.0, 4.0
ONE_BAG = 1.2 * starter.planning_costs().compound_per_bag
"""One bag and its placing: whole bags make steps of this size in the cost."""

Wave = tuple[float, float, float, float]
waves = st.tuples(
    st.floats(4.0, 12.0), st.floats(1.5, 6.0), st.floats(0.0, 6.28), st.floats(0.0, 6.28)
)  # height in mm, length in m, direction, phase


def wavy(wave: Wave, *, mirrored: bool = False, fall: float = 0.002) -> Work:
    """A tilted slab with one long wave and one short one."""
    high, length, direction, phase = wave

    def height_m(x: Floats, y: Floats) -> Floats:
        x = WIDE_M - x if mirrored else x
        along = x * np.cos(direction) + y * np.sin(direction)
        long_wave = high * np.sin(2 * np.pi * along / length + phase)
        return 1e-3 * (long_wave + 0.6 * np.cos(5.1 * x) * np.sin(4.3 * y)) + fall * x

    return work(floor=rectangle(width_m=WIDE_M, length_m=LONG_M), height_m=height_m, columns=40)


def corrected_mm(plan: Plan, job: Work) -> Floats:
    return (job.surface.height - plan.grind + plan.fill) * 0.01


@settings(max_examples=8, deadline=None, derandomize=True)
@given(waves)
def test_grinding_and_filling_leave_the_plane_where_anything_was_done(wave: Wave) -> None:
    job = wavy(wave)
    plan = job.plan()
    worked = (plan.grind > 0) | (plan.fill > 0)
    x, y = np.meshgrid(plan.grid.xs(), plan.grid.ys())
    if plan.plane is None:
        assert not worked.any()
        return
    height, slope_x, slope_y = plan.plane
    plane_mm = 1e3 * (height + slope_x * x + slope_y * y)
    assert np.abs(corrected_mm(plan, job) - plane_mm)[worked].max(initial=0.0) <= 0.0051
    left = np.abs(corrected_mm(plan, job) - plane_mm)[~worked]
    assert left.max(initial=0.0) <= SKIN_MM + 0.01
    assert not ((plan.grind > 0) & (plan.fill > 0)).any()


@settings(max_examples=8, deadline=None, derandomize=True)
@given(waves)
def test_the_bound_is_below_the_plan_and_below_every_other_plane(wave: Wave) -> None:
    job = wavy(wave)
    plan = job.plan()
    assert plan.solve.bound <= plan.solve.objective
    if plan.plane is None:
        return
    rng = np.random.default_rng(7)
    for _ in range(8):
        height, slope_x, slope_y = np.array(plan.plane) + rng.normal(size=3) * [1.5e-3, 6e-4, 6e-4]
        other = job.at(height_m=height, slope_x=slope_x, slope_y=slope_y)
        within = not any(problem.code.endswith("beyond-limit") for problem in other.problems)
        if within and other.passes:
            assert plan.solve.bound <= other.solve.objective
            assert plan.solve.objective <= 1.02 * other.solve.objective + ONE_BAG


def test_the_bound_of_a_hall_counts_the_days_that_its_pours_take() -> None:
    floor = rectangle(width_m=18.0, length_m=24.0)

    def swell(x: Floats, y: Floats) -> Floats:
        return 12e-3 * np.sin(x / 1.1 + 0.3) * np.cos(y / 1.7)

    plan = work(floor=floor, height_m=swell, columns=60).plan()
    assert plan.pour_days >= 6
    # With one day counted for all of them the gap was 0.18.
    assert plan.solve.gap() <= 0.05


@settings(max_examples=6, deadline=None, derandomize=True)
@given(waves)
def test_a_mirrored_room_costs_the_same_within_the_gap(wave: Wave) -> None:
    plan, mirrored = wavy(wave).plan(), wavy(wave, mirrored=True).plan()
    slack = 2 * max(plan.solve.gap(), mirrored.solve.gap(), 1e-9)
    assert mirrored.solve.objective == pytest.approx(plan.solve.objective, rel=slack)
    # The search between the steps of whole bags is a local one: measured apart by up to a bag and a few %.
    apart = abs(mirrored.solve.objective - plan.solve.objective)
    assert apart <= 0.05 * plan.solve.objective + ONE_BAG


@pytest.mark.parametrize("high", [6.0, 9.0, 12.0])
def test_bags_never_fall_when_the_rule_tightens(high: float) -> None:
    bags = []
    for gap_in in (0.75, 0.375, 0.1875, 0.125, 0.0625):
        job = wavy((high, 5.0, 0.6, 0.4))
        job.changes["rules"] = (Rule(length_m=10 * FOOT_M, gap_m=gap_in * INCH_M),)
        bags.append(job.plan().bags)
    assert bags == sorted(bags)
    assert bags[-1] > 0


@settings(max_examples=5, deadline=None, derandomize=True)
@given(waves)
def test_no_plan_for_a_tighter_rule_costs_less_than_the_bound_for_a_looser_one(wave: Wave) -> None:
    """A plane that keeps the tighter rule keeps the looser one too: true of every pair, whatever the search
    of either finds. Of bags it is not, as a tighter rule may grind what a looser one fills around."""
    made = []
    for gap_in in (0.375, 0.1875, 0.0625):
        job = wavy(wave)
        job.changes["rules"] = (Rule(length_m=10 * FOOT_M, gap_m=gap_in * INCH_M),)
        made.append(job.plan())
    for k, tight in enumerate(made):
        if tight.passes:
            assert all(loose.solve.bound <= tight.solve.objective + 1e-9 for loose in made[:k])


def test_a_floor_that_passes_costs_nothing() -> None:
    floor = rectangle(width_m=WIDE_M, length_m=LONG_M)
    plan = work(floor=floor, height_m=lambda x, y: 0.01 * x + 0.004 * y).plan()
    assert plan.solve.status == "not-needed"
    assert plan.solve.objective == plan.solve.bound == 0.0
    assert plan.bags == plan.pour_days == 0
    assert not plan.grind.any()
    assert not plan.fill.any()
    assert plan.passes
    assert plan.plane is None


def test_the_same_slab_tilted_costs_the_same() -> None:
    level, tilted = wavy((9.0, 5.0, 0.6, 0.4), fall=0.0).plan(), wavy((9.0, 5.0, 0.6, 0.4), fall=0.01).plan()
    assert tilted.plane is not None
    assert level.plane is not None
    # The cost is flat around its least, so two planes a few mm apart over the room may be as good.
    assert tilted.plane[1] - level.plane[1] == pytest.approx(0.01, abs=3e-3)
    assert tilted.solve.objective == pytest.approx(level.solve.objective, rel=0.02, abs=ONE_BAG)


def test_volumes_of_a_parabolic_trough_are_the_integral_to_half_a_percent() -> None:
    wide = 18 * FOOT_M
    floor = rectangle(width_m=wide, length_m=20 * FOOT_M)
    job = work(floor=floor, height_m=trough(width_m=wide, depth_m=0.75 * INCH_M))
    filled = job.at(height_m=0.75 * INCH_M)
    assert filled.fill_m3 == pytest.approx(2 / 3 * 0.75 * INCH_M * floor.area_m2, rel=0.005)
    lower = job.at(height_m=0.5625 * INCH_M)
    # Ground where the parabola is above 3/4 of its height: the crossing is at sqrt(3)/2 of the half width.
    cut = 1 - np.sqrt(3) / 2
    ground = floor.area_m2 * 0.75 * INCH_M * (1 / 3 * (1 - (3 / 4) ** 1.5) - 3 / 4 * cut)
    assert lower.grind_m3 == pytest.approx(ground, rel=0.01)
    assert lower.grind_m2 == pytest.approx(floor.area_m2 * cut, rel=0.03)


def test_a_slab_that_may_not_be_ground_is_only_filled() -> None:
    job = wavy((9.0, 5.0, 0.6, 0.4))
    job.changes["limits"] = Limits(no_grinding=True)
    plan = job.plan()
    assert plan.grind_m3 == 0.0
    assert plan.grinder_hours == plan.hand_grinder_hours == 0.0
    assert plan.bags > 0
    assert plan.passes


def test_a_compound_that_cannot_be_feathered_is_never_thinner_than_its_lift() -> None:
    job = wavy((9.0, 5.0, 0.6, 0.4))
    job.changes["compound"] = LIFTED
    plan = job.plan()
    assert plan.fill[plan.fill > 0].min() >= LIFTED.least_lift_m * 1e5
    keyed = (plan.fill > 0) & (plan.grind > 0)
    assert keyed.any()
    assert plan.grind[keyed].max() <= LIFTED.least_lift_m * 1e5 + 1


def test_without_grinding_and_without_a_featheredge_the_whole_floor_gets_a_lift() -> None:
    job = wavy((5.0, 5.0, 0.6, 0.4))
    job.changes.update(compound=LIFTED, limits=Limits(no_grinding=True))
    plan = job.plan()
    assert plan.fill[plan.inside].min() >= LIFTED.least_lift_m * 1e5
    assert not plan.grind.any()


def test_grinding_deeper_than_a_quarter_inch_is_a_hold_point() -> None:
    job = wavy((12.0, 5.0, 0.6, 0.4))
    job.changes["limits"] = Limits(greatest_grind_m=0.02)
    deep = job.at(height_m=0.0)
    assert deep.greatest_grind_m > INCH_M / 4
    codes = {problem.code: problem.severity for problem in deep.problems}
    assert codes["hold-point-deep-grinding"] == "finding"
    assert "hold-point-deep-grinding" not in {
        problem.code for problem in wavy((5.0, 5.0, 0.6, 0.4)).plan().problems
    }


def test_a_given_plane_beyond_the_limits_is_reported_not_hidden() -> None:
    plan = wavy((9.0, 5.0, 0.6, 0.4)).at(height_m=0.06)
    codes = {problem.code for problem in plan.problems}
    assert {"fill-beyond-limit", "second-look-mean-fill"} <= codes


def test_harder_concrete_is_ground_less_and_filled_more() -> None:
    soft, hard = wavy((12.0, 5.0, 0.6, 0.4)), wavy((12.0, 5.0, 0.6, 0.4))
    soft.changes["hardness"], hard.changes["hardness"] = "soft", "hard"
    soft_plan, hard_plan = soft.plan(), hard.plan()
    assert soft_plan.grind_m3 > hard_plan.grind_m3
    assert soft_plan.fill_m3 < hard_plan.fill_m3


def test_an_unknown_hardness_is_an_error_of_the_caller() -> None:
    job = wavy((9.0, 5.0, 0.6, 0.4))
    job.changes["hardness"] = "granite"
    with pytest.raises(KeyError, match="granite"):
        job.plan()
