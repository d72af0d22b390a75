"""The regimes that every way of placing falls into, each with the least prices of depth and the sure charges
that it has.

A way pours nothing or something, and grinds or does not. Where nothing is poured, fill is by hand: no deeper
than a trowel places it, every m² and mm at least at `least_per_m2_mm` (placing_costs.py). If something is
poured there is a pour day, and at each node fill costs the least of a hand's price and a pour's: compound,
and for each m² what the slab drinks, the primer and, along walls, the border, spread over the greatest fill
of all. A free pour needs no pins, so none are counted. If something is ground, keys included, there is a
day's set-up; what is filled without a pour takes a visit. Whole bags, endings, starts of patches and pins
come on top and are left out, so a regime's bound is lower, not wrong.
"""

from dataclasses import dataclass, replace

import numpy as np

from slab_core.correction.optimum.model import Demand
from slab_core.correction.placing.shapes import Wanted, wanted_demand
from slab_core.correction.placing.weighing import DRAWN_M
from slab_core.correction.task import Task
from slab_core.numerics.grid import Floats

HAIR_MM = 0.02
"""Limits are held to less than this, rounding to storage steps included."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Regime:
    """Depths at their least prices, and what comes on top whatever they are, in the job's currency; whether
    something is poured. Its depths are among those of the regime that it lies `within`, whose charges are by
    `saves` more than its own."""

    demand: Demand
    charges: float
    pours: bool
    within: "Regime | None" = None
    saves: float = 0.0


def regimes(*, task: Task, to_the_rule: bool) -> tuple[Regime, ...]:
    """All regimes but that of a field brought to one plane. Doorways are left out, as they are held on their
    lines and not at nodes; `to_the_rule` takes the rules themselves, else they are as tight as planned."""
    by_hand = _by_hand(task=task, to_the_rule=to_the_rule)
    poured = poured_demand(task=task, to_the_rule=to_the_rule)
    costs, placing = task.case.costs, task.placing
    set_up = costs.grinder_set_up_hours * costs.per_grinding_hour
    visit = placing.ph_per_visit * placing.per_ph
    everywhere = np.ones_like(by_hand.inside)
    trowelled = Regime(demand=by_hand, charges=visit + set_up, pours=False)
    some_poured = Regime(demand=poured, charges=costs.per_pour_day + set_up, pours=True)
    return (
        trowelled,
        some_poured,
        _less(trowelled, demand=replace(by_hand, keep_fill_off=everywhere), saves=visit),
        _less(trowelled, demand=replace(by_hand, keep_grinder_off=everywhere), saves=set_up),
        _less(some_poured, demand=replace(poured, keep_grinder_off=everywhere), saves=set_up),
    )


def poured_demand(*, task: Task, to_the_rule: bool) -> Demand:
    """Depths of any way that pours something, doorways apart: no way has depths that these limits exclude."""
    by_hand = _by_hand(task=task, to_the_rule=to_the_rule)
    return replace(
        by_hand,
        fill_weight=_cheapest_weight(task=task, demand=by_hand),
        greatest_fill_mm=task.case.fill_cap_mm + HAIR_MM,
    )


def _less(whole: Regime, *, demand: Demand, saves: float) -> Regime:
    """A part of a regime that is spared a charge."""
    return Regime(demand=demand, charges=whole.charges - saves, pours=whole.pours, within=whole, saves=saves)


def _by_hand(*, task: Task, to_the_rule: bool) -> Demand:
    """Fill by hand at its least price, no deeper than a trowel places it."""
    wanted = Wanted(
        fill_price=task.placing.least_per_m2_mm(),
        greatest_fill_mm=np.inf,
        whole_field=to_the_rule,
        slack_m=DRAWN_M,
        doorways=False,
    )
    demand = wanted_demand(task=task, wanted=wanted)
    return replace(
        demand,
        greatest_fill_mm=min(task.case.fill_cap_mm, task.placing.greatest_depth_mm) + HAIR_MM,
        greatest_grind_mm=demand.greatest_grind_mm + HAIR_MM,
    )


def _cheapest_weight(*, task: Task, demand: Demand) -> Floats:
    """Each node's weight with the least of both prices, in shares of a hand's."""
    nodes, costs = task.case.nodes, task.case.costs
    by_m2 = costs.per_bag * costs.bags_per_m2_texture + costs.per_m2_filled - costs.per_m2_pinned
    at_once = nodes.area_m2 * by_m2 + nodes.wall_m * costs.per_border_m
    by_volume = nodes.area_m2 * costs.per_bag * costs.bags_per_m2_mm
    poured = by_volume + at_once / (task.case.fill_cap_mm + HAIR_MM)
    weight = demand.fill_weight.copy()
    per_mm = float(demand.fill_prices.per_mm[0])
    weight[nodes.inside] = np.minimum(weight[nodes.inside], poured / per_mm)
    return weight
