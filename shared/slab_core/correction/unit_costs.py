"""What one square metre costs to fill or to grind by a given depth, and what every start costs."""

from dataclasses import dataclass

import numpy as np

from slab_core.materials.model import Compound
from slab_core.materials.rates_model import PlanningCosts, Rates
from slab_core.numerics.grid import Floats

MM = 1e-3

SCREED_BAY_M = 2.82
"""Widest bay: a 10 ft edge less 9 in (common practice: edge less 6-12 in, no single source)."""

GRINDING_HOURS_PER_DAY = 6.0
"""Machine-hours of a grinding day (from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class UnitCosts:
    """Depths in mm, areas in m², money in the job's currency; a bag includes the labour of placing it, a
    filled m² its pins, which cost `per_m2_pinned`.

    `breaks_mm` and `factors` are the depth steps of grinding for height: the slice of a cut between two
    breaks takes `factor` times the hours of the first slice.
    """

    per_bag: float
    per_m2_filled: float
    per_m2_pinned: float
    per_border_m: float
    per_pour_day: float
    bags_per_day: int
    per_grinding_hour: float
    grinder_set_up_hours: float
    bags_per_m2_mm: float
    bags_per_m2_texture: float
    hours_per_m2_mm: float
    hand_hours_per_m2_mm: float
    breaks_mm: Floats
    factors: Floats


def labour_with_ways(*, rates: Rates, planning: PlanningCosts) -> float:
    """What an hour's work costs with its share of the ways to the site, of which there is one for each day's
    work, as takeoffs count them; the hours of a pour day hold its own."""
    return planning.labour_per_ph * (1.0 + rates.trip_ph / rates.day_ph())


def unit_costs(
    *,
    rates: Rates,
    planning: PlanningCosts,
    compound: Compound,
    hardness: str,
    pin_bay_m: float = SCREED_BAY_M,
) -> UnitCosts:
    """Costs per unit of work from the firm's rates; formulae are common practice, no single source.

    Raises
    ------
    KeyError
        `hardness` is not among the rates' hardness factors.
    """
    factor = rates.grinding_overhead * rates.hardness_factors[hardness] * MM
    per_ph = labour_with_ways(rates=rates, planning=planning)
    pins_per_m2 = 1.0 / (rates.pin_spacing_m * pin_bay_m)
    per_m2_pinned = pins_per_m2 / rates.pins_per_ph * per_ph
    placing_ph = rates.placing_people / rates.bags_per_hour
    return UnitCosts(
        per_bag=planning.compound_per_bag + placing_ph * per_ph,
        per_m2_filled=planning.primer_per_m2 + per_m2_pinned,
        per_m2_pinned=per_m2_pinned,
        per_border_m=per_ph / rates.border_m_per_ph,
        per_pour_day=rates.pour_day_ph * planning.labour_per_ph,
        bags_per_day=rates.bags_per_day,
        per_grinding_hour=per_ph + planning.grinder_per_mh,
        grinder_set_up_hours=rates.grinder_set_up_mh_per_day,
        bags_per_m2_mm=(1.0 + compound.waste_share) * MM / compound.package.size,
        bags_per_m2_texture=compound.texture_m / compound.package.size,
        hours_per_m2_mm=factor / rates.grinder_m3_per_mh,
        hand_hours_per_m2_mm=factor / rates.hand_grinder_m3_per_mh,
        breaks_mm=np.array([depth / MM for depth, _ in rates.depth_factors]),
        factors=np.array([share for _, share in rates.depth_factors]),
    )


def weighted_depth(*, depth_mm: Floats, costs: UnitCosts) -> Floats:
    """Depth in mm with every slice multiplied by its depth factor; beyond the last break its factor holds."""
    total = np.zeros_like(depth_mm)
    low = 0.0
    for i, factor in enumerate(costs.factors):
        high = costs.breaks_mm[i] if i + 1 < len(costs.factors) else np.inf
        total += factor * np.clip(depth_mm - low, 0.0, high - low)
        low = high
    return total


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantities:
    """What a plan takes. `bags` are whole per pour, `unrounded_bags` what is really mixed."""

    bags: int
    unrounded_bags: float
    filled_m2: float
    border_m: float
    pour_days: int
    machine_hours: float
    hand_hours: float


def cost(*, quantities: Quantities, costs: UnitCosts) -> float:
    """Planning cost of these quantities, in the job's currency."""
    q = quantities
    set_ups = np.ceil((q.machine_hours + q.hand_hours) / GRINDING_HOURS_PER_DAY)
    return float(
        running_cost(quantities=q, costs=costs)
        + (q.bags - q.unrounded_bags) * costs.per_bag
        + q.pour_days * costs.per_pour_day
        + set_ups * costs.grinder_set_up_hours * costs.per_grinding_hour
    )


def running_cost(*, quantities: Quantities, costs: UnitCosts) -> float:
    """The same with parts of bags and without days and set-ups: it has no steps."""
    q = quantities
    return float(
        q.unrounded_bags * costs.per_bag
        + q.filled_m2 * costs.per_m2_filled
        + q.border_m * costs.per_border_m
        + (q.machine_hours + q.hand_hours) * costs.per_grinding_hour
    )
