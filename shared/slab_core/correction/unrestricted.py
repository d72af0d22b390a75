"""What a floor would cost if every height could be placed, beside its plan's cost: the price of realism."""

from dataclasses import replace

import numpy as np
import shapely

from slab_core.correction.model import GivingLimit, Solve, Unrestricted
from slab_core.correction.nodes import Nodes
from slab_core.correction.optimum.heights import unrestricted_optimum
from slab_core.correction.optimum.lattice import coarser
from slab_core.correction.optimum.model import Demand, DepthPrices
from slab_core.correction.task import Task
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Mask
from slab_core.tolerance.check import SLACK_M
from slab_core.tolerance.lattice import free_steps

MOST_NODES = 20_000
"""A larger floor is looked at on every second node, or every fourth."""

DOOR_SLOPE = 0.02
"""A doorway's range is asked of the nodes beside its line, wider by what such a slope makes of the way."""


def unrestricted(*, task: Task, solve: Solve, budget: Budget) -> Unrestricted:
    """The optimum of fill and grinding by volume alone beside the plan's cost.

    Whole bags, areas, days and set-ups are left out and rules are met to the re-check's own slack, so no
    plan that passes costs less on the same nodes.

    Raises
    ------
    Stopped
        when the budget says so.
    """
    demand = demand_of_task(task)
    while demand.inside.sum() > MOST_NODES:
        demand = coarser(demand)
    found = unrestricted_optimum(demand=demand, budget=budget)
    priced = found.status in ("optimal", "feasible")
    area = demand.step_m**2
    return Unrestricted(
        status=found.status,
        node_spacing_m=demand.step_m,
        cost=found.cost if priced else 0.0,
        bound=found.bound if priced else 0.0,
        fill_m3=float(found.fill_mm.sum()) * area * 1e-3,
        grind_m3=float(found.grind_mm.sum()) * area * 1e-3,
        violation_m=found.violation_mm * 1e-3 if priced else 0.0,
        price_of_realism=solve.objective - found.cost if priced and solve.objective > 0.0 else None,
        would_do=tuple(
            GivingLimit(limit=relaxation.limit, by_m=relaxation.least_mm * 1e-3)
            for relaxation in found.relaxations
        ),
    )


def demand_of_task(task: Task, *, on_ramps: bool = False) -> Demand:
    """The task's slab, rules, limits and doorways, at its running prices of volume.

    Joints that move take nothing away: they are carried up through the fill as lines without width, so the
    nodes beside them are filled like others, and the straightedge crosses them as it does in the re-check.
    Ramps at doorways are left out, as the straightedge keeps off them in the re-check, unless the floor's
    rules are asked of what lies `on_ramps` too, less the ramps.
    """
    nodes, costs, surface = task.case.nodes, task.case.costs, task.surface
    per_fill = costs.bags_per_m2_mm * costs.per_bag
    hand = 1.0 + nodes.hand * (costs.hand_hours_per_m2_mm / costs.hours_per_m2_mm - 1.0)
    per_grind = costs.hours_per_m2_mm * costs.per_grinding_hour
    lowest, highest = _door_ranges_mm(task)
    inside = surface.inside if on_ramps else task.off_ramps()
    unground, unfilled = (_on_grid(nodes=nodes, values=kept) > 0 for kept in (nodes.unground, nodes.unfilled))
    return Demand(
        step_m=surface.grid.step_m,
        heights_mm=_on_grid(nodes=nodes, values=nodes.z_mm),
        inside=inside,
        free=free_steps(floor=task.floor, grid=surface.grid, inside=inside),
        rules=tuple(replace(rule, gap_m=rule.gap_m + SLACK_M) for rule in task.rules),
        fill_weight=_on_grid(nodes=nodes, values=nodes.area_m2),
        grind_weight=_on_grid(nodes=nodes, values=nodes.area_m2 * hand),
        fill_prices=DepthPrices(breaks_mm=np.zeros(0), per_mm=np.array([per_fill])),
        grind_prices=DepthPrices(
            breaks_mm=costs.breaks_mm[:-1], per_mm=per_grind * _never_falling(costs.factors)
        ),
        greatest_grind_mm=task.limits.greatest_grind_m * 1e3,
        greatest_fill_mm=task.case.fill_cap_mm,
        keep_grinder_off=unground | task.limits.no_grinding,
        keep_fill_off=unfilled,
        lowest_mm=lowest,
        highest_mm=highest,
    )


def _never_falling(factors: Floats) -> Floats:
    """The greatest prices that do not fall with depth and lie nowhere above the firm's own."""
    return np.asarray(np.minimum.accumulate(factors[::-1])[::-1], dtype=np.float64)


def _on_grid(*, nodes: Nodes, values: Floats | Mask) -> Floats:
    grid = np.zeros(nodes.inside.shape)
    grid[nodes.inside] = values
    return grid


def _door_ranges_mm(task: Task) -> tuple[Floats, Floats]:
    """Lowest and highest corrected heights (ny, nx), infinite where no doorway asks for any."""
    nodes = task.case.nodes
    lowest, highest = np.full(nodes.inside.shape, -np.inf), np.full(nodes.inside.shape, np.inf)
    points = shapely.points(nodes.x, nodes.y)
    near_m = nodes.grid.step_m / 2
    wider_mm = DOOR_SLOPE * near_m * 1e3
    for door in task.doors:
        beside = np.zeros_like(nodes.inside)
        beside[nodes.inside] = shapely.distance(points, shapely.LineString(door.ends())) <= near_m
        lowest[beside] = np.maximum(lowest[beside], door.low_m * 1e3 - wider_mm)
        highest[beside] = np.minimum(highest[beside], door.high_m * 1e3 + wider_mm)
    return lowest, highest
