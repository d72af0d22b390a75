"""The starter values against the ranges of practice (common practice, no single source)."""

import pytest

from slab_core.materials import starter
from slab_core.units.conversions import CUBIC_METRES_PER_CUBIC_FOOT as FOOT3_M3
from slab_core.units.conversions import LITRES_PER_US_GALLON as GALLON_L
from slab_core.units.conversions import SQUARE_METRES_PER_SQUARE_FOOT as FOOT2_M2
from slab_core.units.lengths import METRES_PER_FOOT as FOOT_M
from slab_core.units.lengths import METRES_PER_INCH as INCH_M


def test_a_bag_covers_what_its_yield_says_at_an_eighth_of_an_inch() -> None:
    compound = starter.compound()
    covered_ft2 = compound.package.size / (INCH_M / 8) / FOOT2_M2
    assert covered_ft2 == pytest.approx(43.2)  # 12 x 0.45 / 0.125
    assert compound.yield_low_m3 < compound.package.size < compound.yield_high_m3


@pytest.mark.parametrize(
    ("value", "low", "high"),
    [
        (starter.rates().grinder_m3_per_mh / FOOT3_M3, 0.10, 0.25),
        (starter.rates().hand_grinder_m3_per_mh / FOOT3_M3, 0.03, 0.08),
        (starter.rates().bond_grinding_m2_per_mh / FOOT2_M2, 100, 200),
        (starter.rates().edge_grinding_m_per_mh / FOOT_M, 25, 40),
        (starter.rates().bags_per_hour, 18, 25),
        (starter.rates().pour_day_ph, 6, 9),
        (starter.rates().lay_m2_per_ph / FOOT2_M2, 25, 40),
        (starter.rates().undercut_m_per_ph / FOOT_M, 3, 6),
        (starter.plain_adhesive().coverage_m2_per_l * GALLON_L / FOOT2_M2, 45, 55),
        (starter.barrier_adhesive().coverage_m2_per_l * GALLON_L / FOOT2_M2, 25, 35),
        (starter.primer().coverage_porous_m2_per_l * GALLON_L / FOOT2_M2, 200, 300),
    ],
)
def test_a_starter_value_lies_inside_the_range_of_practice(value: float, low: float, high: float) -> None:
    assert low <= value <= high


def test_grinding_a_cubic_foot_costs_three_to_five_times_as_much_as_placing_it() -> None:
    rates, costs, compound = starter.rates(), starter.planning_costs(), starter.compound()
    ground = rates.grinding_overhead / (rates.grinder_m3_per_mh / FOOT3_M3)
    ground_cost = ground * (costs.labour_per_ph + costs.grinder_per_mh)
    # A cubic foot lies a quarter inch deep over 48 ft², and the slab drinks some of it.
    mixed_m3 = (1 + compound.waste_share) * FOOT3_M3 + 48 * FOOT2_M2 * compound.texture_m
    people_h = rates.placing_people / rates.bags_per_hour
    placed_cost = mixed_m3 / compound.package.size * (costs.compound_per_bag + people_h * costs.labour_per_ph)
    placed_cost += 48 * FOOT2_M2 * costs.primer_per_m2
    assert 3 <= ground_cost / placed_cost <= 5


def test_ids_of_the_catalogue_are_unique_and_every_package_holds_something() -> None:
    catalogue = starter.catalogue()
    products = [catalogue.compound, catalogue.primer, catalogue.adhesive, *catalogue.items]
    assert len({p.id for p in products}) == len(products)
    assert all(p.package.size > 0 and p.package.weight_kg > 0 for p in products)


def test_boards_average_three_and_a_half_feet_and_the_least_piece_is_shorter_than_any_board() -> None:
    covering = starter.covering()
    mean_ft = sum(covering.lengths_m) / len(covering.lengths_m) / FOOT_M
    assert 3.25 <= mean_ft <= 3.75
    assert covering.least_piece_m < min(covering.lengths_m)
