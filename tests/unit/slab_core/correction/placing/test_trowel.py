"""Which fill a trowel can place, and as what."""

import numpy as np
import pytest

from slab_core.correction.connected import parts_of
from slab_core.correction.nodes import Nodes, floor_nodes
from slab_core.correction.placing.trowel import LEAST_M2, trowelled
from slab_core.correction.placing_costs import PlacingCosts, placing_costs
from slab_core.materials import starter
from slab_core.materials.model import Patch
from slab_core.numerics.grid import Floats
from tests.invented_floors import FOOT_M, rectangle, slab


@pytest.fixture(scope="module")
def nodes() -> Nodes:
    floor = rectangle(width_m=6.0, length_m=6.0)
    return floor_nodes(floor=floor, surface=slab(floor=floor, height_m=lambda x, y: 0.0 * x, columns=60))


@pytest.fixture(scope="module")
def placing() -> PlacingCosts:
    return placing_costs(rates=starter.rates(), planning=starter.planning_costs(), patch=Patch())


def cone(nodes: Nodes, *, radius_m: float, deep_mm: float) -> Floats:
    away = np.hypot(nodes.x - 3.0, nodes.y - 3.0)
    return np.asarray(np.maximum(0.0, deep_mm * (1.0 - away / radius_m)))


def methods(nodes: Nodes, placing: PlacingCosts, fill_mm: Floats) -> list[str] | None:
    (part,) = parts_of(nodes=nodes, where=fill_mm > 0.0)
    made = trowelled(nodes=nodes, fill_mm=fill_mm, part=part, placing=placing)
    return None if made is None else sorted(one.method for one in made)


def test_a_small_hollow_is_one_patch(nodes: Nodes, placing: PlacingCosts) -> None:
    assert methods(nodes, placing, cone(nodes, radius_m=0.9, deep_mm=8.0)) == ["patch"]


def test_a_wide_shallow_one_is_one_skim(nodes: Nodes, placing: PlacingCosts) -> None:
    assert methods(nodes, placing, cone(nodes, radius_m=2.5, deep_mm=3.0)) == ["skim"]


def test_a_wide_one_with_a_deep_middle_is_patched_there_and_skimmed_over(
    nodes: Nodes, placing: PlacingCosts
) -> None:
    assert methods(nodes, placing, cone(nodes, radius_m=2.0, deep_mm=6.0)) == ["patch", "skim"]


def test_one_deeper_than_the_patch_may_be_is_not_for_the_trowel(nodes: Nodes, placing: PlacingCosts) -> None:
    assert methods(nodes, placing, cone(nodes, radius_m=0.5, deep_mm=14.0)) is None


def test_one_deep_over_more_than_a_patch_may_cover_is_not_for_the_trowel(
    nodes: Nodes, placing: PlacingCosts
) -> None:
    assert methods(nodes, placing, cone(nodes, radius_m=2.8, deep_mm=11.0)) is None


def test_eighty_square_feet_of_skim_take_two_hours_and_their_bags(
    nodes: Nodes, placing: PlacingCosts
) -> None:
    side = np.sqrt(80.0) * FOOT_M
    inside = (np.abs(nodes.x - 3.0) < side / 2) & (np.abs(nodes.y - 3.0) < side / 2)
    fill = np.where(inside, 25.4 / 32, 0.0)
    (part,) = parts_of(nodes=nodes, where=fill > 0.0)
    made = trowelled(nodes=nodes, fill_mm=fill, part=part, placing=placing)
    assert made is not None
    assert sum(one.person_hours for one in made) == pytest.approx(2.0, abs=0.12)
    assert sum(one.bags for one in made) == pytest.approx(80 * (1.1 / 384 + 1 / 768) / 0.45, rel=0.1)


def test_no_part_costs_less_by_hand_than_the_bound_says(nodes: Nodes, placing: PlacingCosts) -> None:
    rng = np.random.default_rng(4)
    for _ in range(60):
        fill = cone(nodes, radius_m=rng.uniform(0.2, 2.8), deep_mm=rng.uniform(0.5, 12.7))
        for part in parts_of(nodes=nodes, where=fill > 0.0):
            made = trowelled(nodes=nodes, fill_mm=fill, part=part, placing=placing)
            for one in made or ():
                cost = one.bags * placing.per_bag + one.person_hours * placing.per_ph
                assert cost >= one.m2_mm * placing.least_per_m2_mm() * (1.0 - 1e-9)


def test_a_speck_of_a_patch_in_a_skim_is_patched_with_what_lies_around_it(
    nodes: Nodes, placing: PlacingCosts
) -> None:
    """Only the tip is deeper than a skim may be."""
    fill_mm = cone(nodes, radius_m=2.5, deep_mm=placing.greatest_skim_mm + 0.05)
    (part,) = parts_of(nodes=nodes, where=fill_mm > 0.0)
    made = trowelled(nodes=nodes, fill_mm=fill_mm, part=part, placing=placing)
    assert made is not None
    patch, skim = sorted(made, key=lambda one: one.method)
    assert LEAST_M2 <= patch.area_m2 <= 0.1
    assert patch.area_m2 + skim.area_m2 == pytest.approx(nodes.area_m2[part].sum())
    assert skim.greatest_mm <= placing.greatest_skim_mm


def test_a_speck_of_a_skim_beside_a_patch_is_patched_too(nodes: Nodes, placing: PlacingCosts) -> None:
    fill_mm = np.where((np.abs(nodes.x - 3.0) < 0.25) & (np.abs(nodes.y - 3.0) < 0.25), 6.0, 0.0)
    fill_mm[np.argmax(fill_mm)] = 2.0
    assert methods(nodes, placing, fill_mm) == ["patch"]
