"""A convex cost that is nowhere above the true one for the planes of a box, so that its least is a bound."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from slab_core.correction.box import Box
from slab_core.correction.kernels import FILL, GRIND, relaxed_cost
from slab_core.correction.unit_costs import weighted_depth
from slab_core.correction.work import SKIN_MM, Case
from slab_core.numerics.grid import Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Relaxation:
    """The relaxed cost of one box; `fixed` is the least that its starts and set-ups cost on top."""

    kind: NDArray[np.int8]
    fill_base: Floats
    fill_slope: Floats
    grind_weight: Floats
    hinge: Floats
    fixed: float


def relax(*, case: Case, box: Box) -> Relaxation:
    """Nodes deeper than the skin on every plane of the box are surely filled or ground and pay in full.

    The others may be left: they pay the lower convex envelope of nothing up to the skin and the full
    price beyond, over the depths that the box allows. Whole bags and further days are left out.
    """
    nodes, costs = case.nodes, case.costs
    low, high = box.depth_range(case=case)
    kind = np.where(low > SKIN_MM, FILL, np.where(high < -SKIN_MM, GRIND, 0)).astype(np.int8)
    hand = costs.hand_hours_per_m2_mm / costs.hours_per_m2_mm
    money_per_mm = costs.hours_per_m2_mm * costs.per_grinding_hour
    per_m2 = costs.per_m2_filled + costs.bags_per_m2_texture * costs.per_bag
    base = nodes.area_m2 * per_m2 + nodes.wall_m * costs.per_border_m
    slope = nodes.area_m2 * (costs.bags_per_m2_mm * costs.per_bag)
    reach = np.maximum(high, SKIN_MM + 1e-9)
    full = base + slope * np.maximum(reach, case.least_mm)
    return Relaxation(
        kind=kind,
        fill_base=base,
        fill_slope=np.where(kind == FILL, slope, full / np.maximum(reach - SKIN_MM, 1e-3)),
        grind_weight=nodes.area_m2 * (1.0 + nodes.hand * (hand - 1.0)) * money_per_mm,
        hinge=_hinges(case=case),
        fixed=_fixed(case=case, fills=bool((kind == FILL).any()), grinds=bool((kind == GRIND).any())),
    )


def value_and_gradient(*, case: Case, relaxation: Relaxation, abc_mm: Floats) -> Floats:
    """(cost without `fixed`, its derivatives by a, b, c)."""
    n, r, costs = case.nodes, relaxation, case.costs
    found = relaxed_cost(
        n.u, n.v, n.z_mm, abc_mm, r.kind, r.fill_base, r.fill_slope, r.grind_weight, SKIN_MM,
        case.least_mm, r.hinge, costs.breaks_mm, costs.factors,
    )  # fmt: skip
    return np.asarray(found)


def _fixed(*, case: Case, fills: bool, grinds: bool) -> float:
    """A day of pouring, a set-up of the grinder, or, as something is done, the cheaper of the two."""
    costs = case.costs
    pour, set_up = costs.per_pour_day, costs.grinder_set_up_hours * costs.per_grinding_hour
    return pour * fills + set_up * grinds if fills or grinds else min(pour, set_up)


def _hinges(*, case: Case) -> Floats:
    """Lines (slope, offset) of the envelope of {0 up to the skin, stepped depth beyond, up to the cap}."""
    cap = max(case.grind_cap_mm, 2 * SKIN_MM)
    depths = np.array([*[b for b in case.costs.breaks_mm if SKIN_MM < b < cap], cap])
    money = weighted_depth(depth_mm=depths, costs=case.costs)
    lines: list[tuple[float, float]] = []
    at, paid, first = SKIN_MM, 0.0, 0
    while first < len(depths):
        slopes = (money[first:] - paid) / (depths[first:] - at)
        best = first + int(np.argmin(slopes))
        slope = float(slopes[best - first])
        lines.append((slope, paid - slope * at))
        at, paid, first = float(depths[best]), float(money[best]), best + 1
    return np.array(lines)
