"""What no way of placing can cost less than.

The argument, for every way that placement.py weighs and any mixture of them. Let x be the depths of a way
that is allowed: x keeps every cap, and every rule to within what `Weighing` lets pass: as tight as it is
planned, or the rule itself where a way is planned to that. Doorways are left out, as they are held on their
lines and not at nodes. So the cost of x at prices of volume is at least the unrestricted optimum at those
prices, whose bound is proven by weak duality. It remains that a way costs at least its volume at these prices
and its starts:

- Nothing is poured. Every m² and mm by hand costs at least `least_per_m2_mm` (placing_costs.py), every
  ground one its hours. Then either something is trowelled, with its visit, or something is ground, with the
  set-up of a day.
- Something is poured. Every m² and mm costs at least the cheaper of a bag poured and a hand's; as grinding
  costs what it costs, that is at least the two prices' ratio of the optimum at the dearer one. And there is a
  pour day. Bags are whole, areas and endings cost on top: left out, so the bound is lower, not wrong.
- The whole field is brought to one plane, planned to the rule itself: the bound of the cheapest plane.

The bound is the least of these; where no heights keep the rules there is nothing of the first two.
"""

import numpy as np

from slab_core.correction.model import Plan
from slab_core.correction.optimum import unrestricted_optimum
from slab_core.correction.placed import Placed
from slab_core.correction.shapes import MOST_ROUNDS, Wanted, wanted_demand
from slab_core.correction.task import Task
from slab_core.correction.weighing import DRAWN_M
from slab_core.numerics.budget import Budget

GAP, VIOLATION_MM = 0.02, np.inf
"""Near enough: the bound holds wherever the work is stopped, so heights need not keep the rules; those of a
coarser lattice break a few by much and cost nearly what the optimum does."""


def lower_bound(*, task: Task, best: Placed, plane: Plan, to_the_rule: bool, budget: Budget) -> float:
    """The least cost of all ways of placing, in the job's currency; `to_the_rule` says that ways which are no
    plane were planned to the rules themselves, without what a crew's errors take of them."""
    costs, placing = task.case.costs, task.placing
    set_up = costs.grinder_set_up_hours * costs.per_grinding_hour
    volume = _least(task=task, to_the_rule=to_the_rule, budget=budget)
    bounds = [
        best.cost,
        volume + min(set_up, placing.ph_per_visit * placing.per_ph),
        _with_a_pour_day(task=task, volume=volume),
    ]
    if plane.solve.status != "infeasible":
        bounds.append(plane.solve.bound)
    return min(bounds)


def _with_a_pour_day(*, task: Task, volume: float) -> float:
    """At least this share of the volume's cost is left where its fill is poured, and a day comes on top."""
    costs = task.case.costs
    share = costs.bags_per_m2_mm * costs.per_bag / task.placing.least_per_m2_mm()
    return min(1.0, share) * volume + costs.per_pour_day


def _least(*, task: Task, to_the_rule: bool, budget: Budget) -> float:
    """The bound of the cheapest heights with fill at its price by hand; infinite where there are none."""
    wanted = Wanted(
        fill_price=task.placing.least_per_m2_mm(),
        greatest_fill_mm=task.case.fill_cap_mm,
        whole_field=to_the_rule,
        slack_m=DRAWN_M,
        doorways=False,
    )
    found = unrestricted_optimum(
        demand=wanted_demand(task=task, wanted=wanted),
        budget=budget,
        gap=GAP,
        violation_mm=VIOLATION_MM,
        explain=False,
        most_rounds=MOST_ROUNDS,
    )
    if found.status == "infeasible":
        return np.inf
    return found.bound if np.isfinite(found.bound) else 0.0
