"""Pours as a crew places them: bays, lifts, whole bags, wet edge, pins."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.correction.flow import area_in_flow_m2, flow_minutes
from slab_core.correction.model import Plan
from slab_core.correction.placing.placed import place, poured_free
from slab_core.correction.pour_places import depth_in_lift
from slab_core.materials import starter
from slab_core.materials.model import Climate
from slab_core.units.conversions import CUBIC_METRES_PER_CUBIC_FOOT as FOOT3_M3
from slab_core.units.conversions import SQUARE_METRES_PER_SQUARE_FOOT as FOOT2_M2
from tests.invented_floors import FEATHERED, FOOT_M, INCH_M, LIFTED, rectangle, trough, work


def filled_trough(**changes: object) -> Plan:
    wide = 18 * FOOT_M
    floor = rectangle(width_m=wide, length_m=20 * FOOT_M)
    job = work(floor=floor, height_m=trough(width_m=wide, depth_m=0.75 * INCH_M), columns=72, **changes)
    return job.at(height_m=0.75 * INCH_M)


def test_the_area_in_flow_is_the_published_practice_example() -> None:
    # 20 bags/h, 12 min, 3/8 in, 0.45 ft³ a bag: 58 ft² (common practice, no single source).
    rates = replace(starter.rates(), bags_per_hour=20.0)
    compound = replace(FEATHERED, heals_minutes=12.0)
    area = area_in_flow_m2(depth_m=3 * INCH_M / 8, compound=compound, rates=rates, climate=Climate())
    assert area / FOOT2_M2 == pytest.approx(57.6, rel=1e-6)


def test_eighteen_degrees_fahrenheit_more_halve_the_time() -> None:
    cool = flow_minutes(compound=FEATHERED, climate=Climate(temperature_c=21.1))
    warm = flow_minutes(compound=FEATHERED, climate=Climate(temperature_c=31.1))
    assert warm == pytest.approx(cool / 2)


def test_bags_are_whole_in_every_pour_and_cover_volume_waste_and_texture() -> None:
    plan = filled_trough()
    for pour in plan.pours:
        mixed = (pour.volume_m3 * 1.065 + pour.area_m2 * FEATHERED.texture_m) / (0.45 * FOOT3_M3)
        assert pour.bags == np.ceil(mixed - 1e-9)
    assert plan.bags == sum(pour.bags for pour in plan.pours)
    assert plan.fill_m3 == pytest.approx(sum(pour.volume_m3 for pour in plan.pours), rel=1e-6)


def test_no_bay_is_wider_than_the_edge_can_ride() -> None:
    for pour in filled_trough().pours:
        xs = [x for x, _ in pour.outline]
        ys = [y for _, y in pour.outline]
        assert min(max(xs) - min(xs), max(ys) - min(ys)) <= 10 * FOOT_M - 9 * INCH_M + 0.05


def test_pins_stand_in_the_plane_where_the_rim_is_ground_in_under_the_least_lift() -> None:
    plan = filled_trough(compound=LIFTED)
    pins = [pin for pour in plan.pours for pin in pour.pins]
    assert any(pin.above_slab_m == pytest.approx(INCH_M / 8, abs=1e-5) for pin in pins)
    assert [pin for pin in pins if abs(pin.height_m - 0.75 * INCH_M) > 1e-5] == []


def test_pins_stand_in_the_plane_and_say_how_far_they_are_from_two_walls() -> None:
    plan = filled_trough()
    pins = [pin for pour in plan.pours for pin in pour.pins]
    assert len(pins) >= 10
    for pin in pins:
        assert pin.height_m == pytest.approx(0.75 * INCH_M, abs=1e-5)
        slab = 0.75 * INCH_M * ((pin.at[0] - 9 * FOOT_M) / (9 * FOOT_M)) ** 2
        assert pin.above_slab_m == pytest.approx(pin.height_m - slab, abs=2e-5)
        assert len(pin.walls) == 2
    assert len({pin.at for pin in pins}) == len(pins)


def test_pins_along_a_line_are_no_further_apart_than_the_rates_say() -> None:
    plan = filled_trough()
    middle = sorted(
        pin.at[1] for pour in plan.pours for pin in pour.pins if abs(pin.at[0] - 9 * FOOT_M) < 0.1
    )
    assert len(middle) >= 5
    assert np.diff(middle).max() <= starter.rates().pin_spacing_m + 0.08


def test_fill_over_the_greatest_lift_is_poured_in_lifts_on_days_of_their_own() -> None:
    compound = replace(FEATHERED, greatest_lift_m=0.5 * INCH_M)
    one, two = filled_trough(), filled_trough(compound=compound)
    assert {pour.lift for pour in two.pours} == {1, 2}
    assert all(pour.greatest_depth_m <= 0.5 * INCH_M + 1e-9 for pour in two.pours)
    assert sum(pour.volume_m3 for pour in two.pours) == pytest.approx(one.fill_m3, rel=1e-6)
    assert [pour.lift for pour in two.pours] == sorted(pour.lift for pour in two.pours)
    assert two.pour_days >= 2


@pytest.mark.parametrize("inches", [0.66, 0.7, 0.74, 0.375, 0.26])
def test_deep_fill_is_shared_evenly_among_lifts_of_which_none_is_thinner_than_can_be_poured(
    inches: float,
) -> None:
    """The fill is 3/4 in deep at most: a hair over the greatest lift once left a skin as the lower one."""
    compound = replace(LIFTED, greatest_lift_m=inches * INCH_M)
    one, several = filled_trough(compound=LIFTED), filled_trough(compound=compound)
    deepest, top = one.greatest_fill_m, max(pour.lift for pour in several.pours)
    assert top >= 2
    by_bay: dict[str, list[float]] = {}
    for pour in several.pours:
        assert pour.greatest_depth_m <= compound.greatest_lift_m + 1e-9
        assert pour.mean_depth_m >= LIFTED.least_lift_m - 1e-9
        by_bay.setdefault(pour.id.rsplit("-", 1)[0], []).append(pour.greatest_depth_m)
    for depths in by_bay.values():
        if sum(depths) == pytest.approx(deepest, abs=1e-5):
            assert max(depths) - min(depths) < 0.6 * max(depths)
    assert sum(pour.volume_m3 for pour in several.pours) == pytest.approx(one.fill_m3, rel=1e-6)
    assert several.bags == sum(pour.bags for pour in several.pours)
    for pour in several.pours:
        textured = pour.area_m2 * compound.texture_m if pour.below_m == 0.0 else 0.0
        mixed = (pour.volume_m3 * (1.0 + compound.waste_share) + textured) / compound.package.size
        assert pour.bags == np.ceil(mixed - 1e-9)


def test_no_node_of_a_lower_lift_is_thinner_than_can_be_poured() -> None:
    compound = replace(LIFTED, greatest_lift_m=0.7 * INCH_M)
    plan = filled_trough(compound=compound)
    lower = [pour for pour in plan.pours if pour.below_m > 0.0]
    assert lower
    for pour in plan.pours:
        depth, _ = depth_in_lift(plan, pour, least_m=LIFTED.least_lift_m, lift_m=compound.greatest_lift_m)
        assert depth[depth > 0].min() * 1e-5 >= LIFTED.least_lift_m - 1e-6
        assert depth.max() * 1e-5 == pytest.approx(pour.greatest_depth_m)


def test_a_lower_lift_has_pins_of_its_own_so_much_under_the_finished_floor() -> None:
    plan = filled_trough(compound=replace(LIFTED, greatest_lift_m=0.7 * INCH_M))
    for pour in plan.pours:
        assert pour.pins
        assert (pour.below_m > 0.0) == (pour.lift == 1 and len({p.lift for p in plan.pours}) == 2)
        for pin in pour.pins:
            assert pin.height_m == pytest.approx(0.75 * INCH_M - pour.below_m, abs=1e-5)
            assert pin.above_slab_m >= LIFTED.least_lift_m - 1e-5


def test_the_border_is_the_wall_along_the_filled_field() -> None:
    floor = rectangle(width_m=3.0, length_m=4.0)
    plan = work(floor=floor, height_m=lambda x, y: 0.0 * x, columns=40).at(height_m=0.006)
    assert plan.border_m == pytest.approx(14.0)
    assert sum(pour.edge_m for pour in plan.pours) == pytest.approx(14.0)


def test_grind_areas_add_up_to_the_plan() -> None:
    wide = 18 * FOOT_M
    floor = rectangle(width_m=wide, length_m=20 * FOOT_M)
    job = work(floor=floor, height_m=trough(width_m=wide, depth_m=0.75 * INCH_M), columns=72)
    plan = job.at(height_m=0.5625 * INCH_M)
    assert len(plan.grind_areas) == 2
    assert sum(area.volume_m3 for area in plan.grind_areas) == pytest.approx(plan.grind_m3)
    assert sum(area.machine_hours for area in plan.grind_areas) == pytest.approx(plan.grinder_hours)
    assert sum(area.hand_hours for area in plan.grind_areas) == pytest.approx(plan.hand_grinder_hours)
    for area in plan.grind_areas:
        assert area.greatest_depth_m == pytest.approx(0.1875 * INCH_M, abs=2e-5)
        assert area.walls[0].distance_m == pytest.approx(0.0, abs=1e-9)


def test_a_day_takes_more_bags_of_a_free_pour_and_its_cost_says_so() -> None:
    job = work(
        floor=rectangle(width_m=5.0, length_m=8.0), height_m=lambda x, y: 0.0 * x, columns=50, compound=LIFTED
    )
    task = job.task()
    count = len(task.case.nodes.x)
    screeded = place(
        name="all of it",
        task=task,
        grind=np.zeros(count, dtype=np.int32),
        fill=np.full(count, 1200, dtype=np.int32),
        poured=np.ones(count, dtype=np.bool_),
        by_hand=(),
    )
    free = poured_free(screeded, task=task)
    # 60-100 bags a day poured free, 12-30 screeded (common practice, no single source): 40 m² of 12 mm take
    # some 44 bags, so that two days become one.
    assert 30 < free.work.quantities.bags == screeded.work.quantities.bags < 80
    assert (screeded.work.quantities.pour_days, free.work.quantities.pour_days) == (2, 1)
    pins = task.case.costs.per_m2_pinned * free.work.quantities.filled_m2
    assert screeded.cost - free.cost == pytest.approx(task.case.costs.per_pour_day + pins)
