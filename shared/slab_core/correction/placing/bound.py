"""What no way of placing can cost less than.

The argument, for every way that placement.py weighs and any mixture of them. Let x be the depths of a way
that is allowed: x keeps every cap, and every rule to within what `Weighing` lets pass: as tight as it is
planned, or the rule itself where a way is planned to that. Either the whole field is brought to one plane,
planned to the rule itself, and the bound of the cheapest plane holds; or the way falls into one of the
regimes of regimes.py, and costs at least the regime's charges and x at the regime's prices, which is no
less than the unrestricted optimum at those prices, whose bound is proven by weak duality
(optimum/heights.py). A regime where no depths keep the rules has no way. So the least over plane and regimes
is a bound of all.

All regimes are looked at by the means of cells (optimum/cells.py) first, which takes little and proves many
of them impossible or dearer, and those that may be the least on the floor's own nodes. All bounds of a regime
hold, so the greatest counts. What held the heights of the regime before starts the next one: where rules can
hardly be kept, multipliers that begin with nothing run astray and prove little.
"""

from dataclasses import dataclass

import numpy as np

from slab_core.correction.model import Plan
from slab_core.correction.optimum.cells import cells_bound, cells_of, is_impossible
from slab_core.correction.optimum.heights import unrestricted_optimum
from slab_core.correction.optimum.model import Demand, Start
from slab_core.correction.placing.placed import Placed
from slab_core.correction.placing.regimes import Regime, regimes
from slab_core.correction.placing.shapes import MOST_ROUNDS
from slab_core.correction.task import Task
from slab_core.numerics.budget import Budget

GAP, VIOLATION_MM = 0.01, np.inf
"""Near enough: the bound holds wherever the work is stopped, so heights need not keep the rules; those of a
coarser lattice break a few by much and cost nearly what the optimum does."""

MOST_CELLS = 1_500
"""Cells are made so large that there are no more of them."""

NEAR, NEAR_UNGROUND = 0.97, 0.92
"""A regime is looked at on the floor's own nodes unless what is known of it is so near to the least that is
proven there. Without grinding that takes several times as long, so less is asked of it."""


def lower_bound(*, task: Task, best: Placed, plane: Plan, to_the_rule: bool, budget: Budget) -> float:
    """The least cost of all ways of placing, in the job's currency; `to_the_rule` says that ways which are no
    plane were planned to the rules themselves, without what a crew's errors take of them."""
    most = best.cost if plane.solve.status == "infeasible" else min(best.cost, plane.solve.bound)
    known: dict[int, float] = {}
    every = regimes(task=task, to_the_rule=to_the_rule)
    prover = _Prover(budget=budget)
    for regime in sorted(every, key=lambda one: (one.within is not None, one.pours != best.poured.any())):
        bound, near = _by_cells(regime, budget), NEAR
        if regime.within is not None:
            bound, near = max(bound, known[id(regime.within)] - regime.saves), NEAR_UNGROUND
        if bound < near * min([most, *known.values()]):
            spared = max((one.saves for one in every if one.within is regime), default=0.0)
            sought = min([most, *known.values()]) + spared
            bound = prover.exact(regime, at_least=bound, sought=sought)
        known[id(regime)] = bound
    return min([most, *known.values()])


def _by_cells(regime: Regime, budget: Budget) -> float:
    """A bound of the regime that takes little."""
    demand = regime.demand
    while demand.inside.sum() > MOST_CELLS:
        demand = cells_of(demand)
    return regime.charges + cells_bound(demand=demand, budget=budget)


@dataclass(slots=True, kw_only=True, eq=False)
class _Prover:
    """Bounds on the floor's own nodes, with what held the heights of the last whole regime and its price."""

    budget: Budget
    start: Start | None = None
    price: float = 0.0

    def exact(self, regime: Regime, *, at_least: float, sought: float) -> float:
        """The bound of the regime, or what is known if that is more. No more is looked for than is `sought`,
        as another way costs no more than that. Where it says no more than is known, no depths may keep the
        rules at all: coarser lattices then leave it nothing to begin with."""
        price = _price(regime.demand)
        whole = regime.within is None  # heights of a part, with nothing ground or filled, are quite others
        found = unrestricted_optimum(
            demand=regime.demand,
            budget=self.budget,
            gap=GAP,
            violation_mm=VIOLATION_MM,
            explain=False,
            most_rounds=MOST_ROUNDS,
            bound_sought=sought - regime.charges,
            start=self.start.at_prices(price / self.price) if whole and self.start is not None else None,
        )
        if whole:
            self.start, self.price = found.start, price
        bound = regime.charges + found.bound
        if bound <= at_least and is_impossible(demand=regime.demand, budget=self.budget):
            return np.inf
        return max(bound, at_least)


def _price(demand: Demand) -> float:
    """What fill costs at most nodes, for each mm."""
    return float(np.median(demand.fill_weight[demand.inside])) * float(demand.fill_prices.per_mm[0])
