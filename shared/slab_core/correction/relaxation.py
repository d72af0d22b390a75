"""A convex cost that is nowhere above the true one, so that its least value bounds every plane."""

from dataclasses import dataclass

import numpy as np

from slab_core.correction.kernels import relaxed_cost
from slab_core.correction.unit_costs import UnitCosts, weighted_depth
from slab_core.correction.work import SKIN_MM, Case
from slab_core.numerics.grid import Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Relaxation:
    """Per node: fill_weight · slope · (d - skin)+, or grind_weight · max over hinge rows of (k·t + m)+."""

    fill_weight: Floats
    grind_weight: Floats
    slope: float
    hinge: Floats


def relax(*, case: Case) -> Relaxation:
    """The lower convex envelope of a node's cost over the depths that the limits allow.

    Below the skin a node may cost nothing, because patches that shallow may be left; above it fill pays
    per area and per depth. Whole bags, borders, days and set-ups are not in it: `fixed_charges` has the
    least of them.
    """
    nodes, costs = case.nodes, case.costs
    area = nodes.area_m2
    hand = costs.hand_hours_per_m2_mm / costs.hours_per_m2_mm
    per_mm = costs.bags_per_m2_mm * costs.per_bag
    per_m2 = costs.per_m2_filled + costs.bags_per_m2_texture * costs.per_bag
    deepest = max(case.fill_cap_mm, 2 * SKIN_MM)
    return Relaxation(
        fill_weight=area,
        grind_weight=area * (1.0 + nodes.hand * (hand - 1.0)),
        slope=(per_m2 + per_mm * deepest) / (deepest - SKIN_MM),
        hinge=_grind_hinges(costs=costs, cap_mm=max(case.grind_cap_mm, 2 * SKIN_MM)),
    )


def fixed_charges(*, costs: UnitCosts, fills: bool, grinds: bool) -> float:
    """The least that starting to pour and starting to grind can cost."""
    grinding = costs.grinder_set_up_hours * costs.per_grinding_hour
    return costs.per_pour_day * fills + grinding * grinds


def value_and_gradient(*, case: Case, relaxation: Relaxation, abc_mm: Floats) -> Floats:
    """(cost, its derivatives by a, b, c)."""
    n, r = case.nodes, relaxation
    return np.asarray(
        relaxed_cost(n.u, n.v, n.z_mm, r.fill_weight, r.grind_weight, abc_mm, SKIN_MM, r.slope, r.hinge)
    )


def _grind_hinges(*, costs: UnitCosts, cap_mm: float) -> Floats:
    """Lines (slope, offset) of the envelope of {0 up to the skin, cost of grinding beyond}."""
    depths = np.array([*[b for b in costs.breaks_mm if SKIN_MM < b < cap_mm], cap_mm])
    money = weighted_depth(depth_mm=depths, costs=costs) * costs.hours_per_m2_mm * costs.per_grinding_hour
    lines: list[tuple[float, float]] = []
    at, paid, first = SKIN_MM, 0.0, 0
    while first < len(depths):
        slopes = (money[first:] - paid) / (depths[first:] - at)
        best = first + int(np.argmin(slopes))
        slope = float(slopes[best - first])
        lines.append((slope, paid - slope * at))
        at, paid, first = float(depths[best]), float(money[best]), best + 1
    return np.array(lines)
