"""A convex cost that is nowhere above the true one for the planes of a box, so that its least is a bound."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from slab_core.correction.kernels import FILL, GRIND, LEFT, relaxed_cost
from slab_core.correction.planes.box import Box
from slab_core.correction.unit_costs import GRINDING_HOURS_PER_DAY, UnitCosts, weighted_depth
from slab_core.correction.work import SKIN_MM, Case
from slab_core.numerics.grid import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class DayPrices:
    """A bag and an hour of grinding, with their parts of days where those count so; else a day of each."""

    per_bag: float
    per_hour: float
    pour_day: float
    set_up: float


def day_prices(*, costs: UnitCosts, several_days: bool) -> tuple[DayPrices, ...]:
    """One day of each; where there are several, also pours, and then both, in parts of days.

    None of these is more than the whole days. One day is near where the work fits into it, parts are near on
    large floors.
    """
    set_up = costs.grinder_set_up_hours * costs.per_grinding_hour
    bag, hour = costs.per_bag, costs.per_grinding_hour
    bag_by_day = bag + costs.per_pour_day / costs.bags_per_day
    hour_by_day = hour + set_up / GRINDING_HOURS_PER_DAY
    one = DayPrices(per_bag=bag, per_hour=hour, pour_day=costs.per_pour_day, set_up=set_up)
    if not several_days:
        return (one,)
    return (
        one,
        DayPrices(per_bag=bag_by_day, per_hour=hour, pour_day=0.0, set_up=set_up),
        DayPrices(per_bag=bag_by_day, per_hour=hour_by_day, pour_day=0.0, set_up=0.0),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reckoning:
    """Prices of the nodes of one box; `fixed` is the least that its starts and set-ups cost on top."""

    fill_base: Floats
    fill_slope: Floats
    grind_weight: Floats
    fixed: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Relaxation:
    """The relaxed cost of one box: the dearest of several reckonings, each nowhere above the true cost.

    The first has the greatest `fixed` costs, which count for all. Depths of no more than `skin_mm` are free.
    """

    kind: NDArray[np.int8]
    hinge: Floats
    reckonings: tuple[Reckoning, ...]
    skin_mm: float = SKIN_MM

    @property
    def fixed(self) -> float:
        """The least that starts and set-ups cost; `value_and_gradient` is without it."""
        return self.reckonings[0].fixed


def relax(*, case: Case, box: Box, prices: tuple[DayPrices, ...]) -> Relaxation:
    """Nodes deeper than the skin on every plane of the box are surely filled or ground and pay in full.

    The others may be left: they pay the lower convex envelope of nothing up to the skin and the full
    price beyond, over the depths that the box allows. Whole bags are left out; `prices` say how days count.
    """
    low, high = box.depth_range(case=case)
    kind = np.where(low > SKIN_MM, FILL, np.where(high < -SKIN_MM, GRIND, 0)).astype(np.int8)
    kind[case.nodes.unfilled] = LEFT
    reckonings = tuple(_reckoning(case=case, kind=kind, high=high, prices=each) for each in prices)
    return Relaxation(kind=kind, hinge=_hinges(case=case), reckonings=reckonings)


def by_volume(*, case: Case, fills: bool) -> Relaxation:
    """What all fill and all grinding of a plane costs at the prices of their volumes, as a convex cost: where
    deeper cuts are cheaper by the mm, a little less. A family that does not fill leaves what is low."""
    area, costs = case.worked_m2(), case.costs
    volume = Reckoning(
        fill_base=np.zeros_like(area),
        fill_slope=area * (costs.bags_per_m2_mm * costs.per_bag * fills),
        grind_weight=_grind_weight(case=case, per_hour=costs.per_grinding_hour),
        fixed=0.0,
    )
    return Relaxation(
        kind=np.zeros(len(area), dtype=np.int8),
        hinge=_hinges(case=case, skin_mm=0.0),
        reckonings=(volume,),
        skin_mm=0.0,
    )


def value_and_gradient(*, case: Case, relaxation: Relaxation, abc_mm: Floats) -> Floats:
    """(cost without `fixed`, its derivatives by a, b, c) of the reckoning that is dearest here."""
    n, costs = case.nodes, case.costs
    dearest = np.full(4, -np.inf)
    for r in relaxation.reckonings:
        found = relaxed_cost(
            n.u, n.v, n.z_mm, abc_mm, relaxation.kind, r.fill_base, r.fill_slope, r.grind_weight,
            relaxation.skin_mm, case.least_mm, relaxation.hinge, costs.breaks_mm, costs.factors,
        )  # fmt: skip
        found[0] += r.fixed - relaxation.fixed
        if found[0] > dearest[0]:
            dearest = found
    return np.asarray(dearest)


def _reckoning(*, case: Case, kind: NDArray[np.int8], high: Floats, prices: DayPrices) -> Reckoning:
    nodes, costs, area = case.nodes, case.costs, case.worked_m2()
    per_m2 = costs.per_m2_filled + costs.bags_per_m2_texture * prices.per_bag
    base = area * per_m2 + nodes.wall_m * (area > 0.0) * costs.per_border_m
    slope = area * (costs.bags_per_m2_mm * prices.per_bag)
    reach = np.maximum(high, SKIN_MM + 1e-9)
    full = base + slope * np.maximum(reach, case.least_mm)
    return Reckoning(
        fill_base=base,
        fill_slope=np.where(kind == FILL, slope, full / np.maximum(reach - SKIN_MM, 1e-3)),
        grind_weight=_grind_weight(case=case, per_hour=prices.per_hour),
        fixed=_fixed(prices=prices, fills=bool((kind == FILL).any()), grinds=bool((kind == GRIND).any())),
    )


def _grind_weight(*, case: Case, per_hour: float) -> Floats:
    """The price of a mm off each node, by machine or by hand."""
    nodes, costs = case.nodes, case.costs
    hand = costs.hand_hours_per_m2_mm / costs.hours_per_m2_mm
    per_mm = costs.hours_per_m2_mm * per_hour
    return np.asarray(case.worked_m2() * (1.0 + nodes.hand * (hand - 1.0)) * per_mm)


def _fixed(*, prices: DayPrices, fills: bool, grinds: bool) -> float:
    """A day of pouring, a set-up of the grinder, or, as something is done, the cheaper of the two."""
    pour, set_up = prices.pour_day, prices.set_up
    return pour * fills + set_up * grinds if fills or grinds else min(pour, set_up)


def _hinges(*, case: Case, skin_mm: float = SKIN_MM) -> Floats:
    """Lines (slope, offset) of the envelope of {0 up to the skin, stepped depth beyond, up to the cap}."""
    cap = max(case.grind_cap_mm, 2 * SKIN_MM)
    depths = np.array([*[b for b in case.costs.breaks_mm if skin_mm < b < cap], cap])
    money = weighted_depth(depth_mm=depths, costs=case.costs)
    lines: list[tuple[float, float]] = []
    at, paid, first = skin_mm, 0.0, 0
    while first < len(depths):
        slopes = (money[first:] - paid) / (depths[first:] - at)
        best = first + int(np.argmin(slopes))
        slope = float(slopes[best - first])
        lines.append((slope, paid - slope * at))
        at, paid, first = float(depths[best]), float(money[best]), best + 1
    return np.array(lines)
