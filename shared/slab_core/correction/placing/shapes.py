"""The cheapest heights at the prices of some way of placing, drawn from a coarser lattice onto the floor."""

from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage

from slab_core.correction.optimum.heights import unrestricted_optimum
from slab_core.correction.optimum.lattice import coarser
from slab_core.correction.optimum.model import Demand, DepthPrices, Start
from slab_core.correction.placing.run_out import run_out_mm
from slab_core.correction.placing_error import allowed_gap_m
from slab_core.correction.task import Task
from slab_core.correction.unit_costs import weighted_depth
from slab_core.correction.unrestricted import demand_of_task
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Mask
from slab_core.tolerance.check import SLACK_M
from slab_core.tolerance.model import Rule

MOST_NODES = 4_500
"""Heights are looked for on so many nodes at most: a room of 35 m² on every second node of 50 mm."""

GAP, VIOLATION_MM = 1e-2, 0.1

MOST_ROUNDS = 30
"""So often are broken rows looked for on one lattice: what is still broken then is mended on the floor's own
nodes, as what the coarser lattice does not see is."""

LEAST_SHARE = 0.2
"""However large the reserve, so much of a rule is left to plan with."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What heights are asked for: the price of fill for each m² and mm, its greatest depth, whether anything
    is ground, and how much tighter every rule is taken than it is planned (placing_error.py); `whole_field`
    takes the rules themselves. A rule is kept to within `slack_m`; without `doorways` neither their
    ranges nor their ramps are held. So much of the greatest grinding is kept for what is drawn later."""

    fill_price: float
    greatest_fill_mm: float
    grinds: bool = True
    reserve_m: float = 0.0
    whole_field: bool = False
    kept_grind_mm: float = 0.0
    slack_m: float = SLACK_M
    doorways: bool = True


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shape:
    """Heights in mm at the nodes that the floor would best have, where it is filled and ground for them, and
    what that costs by volume alone."""

    target_mm: Floats
    fill: Mask
    grind: Mask
    cost: float


def wanted_demand(*, task: Task, wanted: Wanted) -> Demand:
    """The demand of the task's unrestricted optimum with these prices, caps and reserve."""
    demand = demand_of_task(task, on_ramps=wanted.doorways)
    doors, inside = task.doors if wanted.doorways else (), task.surface.inside
    lowest, highest = np.full(inside.shape, -np.inf), np.full(inside.shape, np.inf)
    lowest[inside], highest[inside] = run_out_mm(task=task, doors=doors)
    return replace(
        demand,
        lowest_mm=lowest,
        highest_mm=highest,
        rules=tuple(replace(rule, gap_m=_gap_m(rule=rule, wanted=wanted)) for rule in task.rules),
        fill_prices=DepthPrices(breaks_mm=np.zeros(0), per_mm=np.array([wanted.fill_price])),
        greatest_fill_mm=min(demand.greatest_fill_mm, wanted.greatest_fill_mm),
        greatest_grind_mm=max(0.0, demand.greatest_grind_mm - wanted.kept_grind_mm),
        keep_grinder_off=demand.keep_grinder_off | (not wanted.grinds),
    )


def _gap_m(*, rule: Rule, wanted: Wanted) -> float:
    planned = rule.gap_m if wanted.whole_field else allowed_gap_m(gap_m=rule.gap_m)
    return max(LEAST_SHARE * rule.gap_m, planned - wanted.reserve_m) + wanted.slack_m


def most_reserve_m(task: Task) -> float:
    """A larger reserve makes no rule tighter."""
    return max(allowed_gap_m(gap_m=rule.gap_m) - LEAST_SHARE * rule.gap_m for rule in task.rules)


class Shapes:
    """Looks for the cheapest shapes of one task, each from where the one before ended, and knows the least
    that any of them costs by volume at the prices of the unrestricted optimum, infinite before there is
    one."""

    def __init__(self, *, task: Task, budget: Budget) -> None:
        self.task, self.budget = task, budget
        self.start: Start | None = None
        self.least_cost = np.inf

    def cheapest(self, demand: Demand) -> Shape | None:
        """The optimum of the demand, found on a coarser lattice where the floor is large; None if there is
        none.

        Between the nodes of the coarser lattice the floor is brought to the surface that they span.

        Raises
        ------
        Stopped
            the caller ended it.
        """
        levels = 0
        while demand.inside.sum() > MOST_NODES:
            demand, levels = coarser(demand), levels + 1
        found = unrestricted_optimum(
            demand=demand,
            budget=self.budget,
            gap=GAP,
            violation_mm=VIOLATION_MM,
            explain=False,
            most_rounds=MOST_ROUNDS,
            start=self.start,
        )
        if found.status == "infeasible":
            return None
        self.start = found.start
        scale, inside = 2.0**levels, self.task.case.nodes.inside
        target, change = (
            _drawn(values, inside=demand.inside, shape=inside.shape, scale=scale)[inside]
            for values in (found.corrected_mm, found.fill_mm - found.grind_mm)
        )
        shape = Shape(target_mm=target, fill=change > 0.0, grind=change < 0.0, cost=found.cost)
        self.least_cost = min(self.least_cost, _as_poured(task=self.task, shape=shape))
        return shape


def _as_poured(*, task: Task, shape: Shape) -> float:
    """What the shape costs by volume alone, all fill at the price of a pour's compound."""
    nodes, costs = task.case.nodes, task.case.costs
    depth = shape.target_mm - nodes.z_mm
    fill = np.where(shape.fill, np.maximum(depth, 0.0), 0.0)
    cut = weighted_depth(depth_mm=np.where(shape.grind, np.maximum(-depth, 0.0), 0.0), costs=costs)
    hours_per_m2_mm = costs.hours_per_m2_mm * (1.0 - nodes.hand) + costs.hand_hours_per_m2_mm * nodes.hand
    bags = float(nodes.area_m2 @ fill) * costs.bags_per_m2_mm
    return bags * costs.per_bag + float((nodes.area_m2 * hours_per_m2_mm) @ cut) * costs.per_grinding_hour


def _drawn(values: Floats, *, inside: Mask, shape: tuple[int, int], scale: float) -> Floats:
    """Values of the coarser nodes between them too, bilinear; outside the floor those of the nearest node."""
    nearest = ndimage.distance_transform_edt(~inside, return_distances=False, return_indices=True)
    known = values[nearest[0], nearest[1]]
    rows, columns = np.mgrid[0 : shape[0], 0 : shape[1]] / scale
    return np.asarray(ndimage.map_coordinates(known, [rows, columns], order=1, mode="nearest"))
