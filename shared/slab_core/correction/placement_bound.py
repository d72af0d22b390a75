"""What no way of placing can cost less than.

The argument, for every way that placement.py weighs and any mixture of them. Let x be the depths of a way
that is allowed: x keeps every rule as tight as it is planned, every cap and doorway, so the cost of x at
prices of volume is at least the unrestricted optimum at those prices, whose bound is proven by weak duality.
It remains that a way costs at least its volume at these prices and its starts:

- Nothing is poured. Every m² and mm by hand costs at least `least_per_m2_mm` (placing_costs.py), every
  ground one its hours. Then either something is trowelled, with its visit, or something is ground, with the
  set-up of a day. Where the caps of the trowel leave no heights at all, there is no such way.
- Something is poured. Every m² and mm costs at least the cheaper of a bag poured and a hand's, with at least
  one pour day. Bags are whole, areas and endings cost on top: left out, so the bound is lower, not wrong.
- The whole field is brought to one plane, planned to the rule itself: the bound of the cheapest plane.
- The whole field is brought to a ruled surface: as something is poured, with the rules themselves.

The bound is the least of those that were weighed.
"""

import numpy as np

from slab_core.correction.model import Plan
from slab_core.correction.optimum import unrestricted_optimum
from slab_core.correction.optimum_floor import StraightedgeRows, columns_of_demand
from slab_core.correction.optimum_lattice import coarser
from slab_core.correction.optimum_model import Demand
from slab_core.correction.optimum_rows import all_of
from slab_core.correction.optimum_solver import from_nothing, solve
from slab_core.correction.placed import Placed
from slab_core.correction.shapes import Wanted, wanted_demand
from slab_core.correction.task import Task
from slab_core.numerics.budget import Budget

GAP, VIOLATION_MM = 0.05, 0.3
"""Near enough: the bound holds wherever the work is stopped."""

FEW_NODES = 1_200


def lower_bound(*, task: Task, best: Placed, plane: Plan, ruled: bool, budget: Budget) -> float:
    """The least cost of all ways of placing, in the job's currency; `ruled` says that such were weighed."""
    bounds = [best.cost]
    if plane.solve.status != "infeasible":
        bounds.append(plane.solve.bound)
    if ruled:
        bounds.append(_poured(task=task, whole_field=True, budget=budget))
    if best.poured.any():
        bounds.append(_poured(task=task, whole_field=False, budget=budget))
        if not _no_way_by_hand(task=task, budget=budget):
            bounds.append(_by_hand(task=task, budget=budget))
    else:
        hand = _by_hand(task=task, budget=budget)
        # Fill poured may be so much cheaper than fill by hand, grinding is not: at least this share is left.
        share = min(1.0, _pour_price(task) / task.placing.least_per_m2_mm())
        poured = share * hand + task.case.costs.per_pour_day
        bounds += [hand, max(poured, 0.0)]
    return min(bounds)


def _by_hand(*, task: Task, budget: Budget) -> float:
    costs, placing = task.case.costs, task.placing
    set_up = costs.grinder_set_up_hours * costs.per_grinding_hour
    wanted = Wanted(fill_price=placing.least_per_m2_mm(), greatest_fill_mm=task.case.fill_cap_mm)
    start = min(set_up, placing.ph_per_visit * placing.per_ph)
    return _least(wanted_demand(task=task, wanted=wanted), budget=budget) + start


def _poured(*, task: Task, whole_field: bool, budget: Budget) -> float:
    price = min(_pour_price(task), task.placing.least_per_m2_mm())
    wanted = Wanted(fill_price=price, greatest_fill_mm=task.case.fill_cap_mm, whole_field=whole_field)
    return _least(wanted_demand(task=task, wanted=wanted), budget=budget) + task.case.costs.per_pour_day


def _pour_price(task: Task) -> float:
    return task.case.costs.bags_per_m2_mm * task.case.costs.per_bag


def _least(demand: Demand, *, budget: Budget) -> float:
    found = unrestricted_optimum(demand=demand, budget=budget, gap=GAP, violation_mm=VIOLATION_MM)
    return found.bound if np.isfinite(found.bound) else 0.0


def _no_way_by_hand(*, task: Task, budget: Budget) -> bool:
    """Whether a coarser lattice already proves that no heights would do within the depths of the trowel: its
    nodes and edges are among those of the floor."""
    placing = task.placing
    wanted = Wanted(fill_price=placing.least_per_m2_mm(), greatest_fill_mm=placing.greatest_depth_mm)
    demand = wanted_demand(task=task, wanted=wanted)
    while demand.inside.sum() > FEW_NODES:
        demand = coarser(demand)
    columns = columns_of_demand(demand)
    if columns is None:
        return True
    answer = solve(
        columns=columns,
        look=StraightedgeRows(demand=demand, budget=budget, known=all_of([])),
        guess=from_nothing(columns=columns),
        gap=GAP,
        violation_mm=VIOLATION_MM,
        budget=budget,
    )
    return answer.impossible
