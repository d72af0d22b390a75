"""What it costs that a crew has to place a plan, beside the cheapest heights by volume alone."""

from dataclasses import replace
from math import ceil

from slab_core.correction.model import Plan, Workability, WorkabilityCause, WorkabilityPart
from slab_core.correction.placing.placed import Placed
from slab_core.correction.planes.best_plane import least_volume
from slab_core.correction.task import Task
from slab_core.correction.unit_costs import GRINDING_HOURS_PER_DAY, Quantities, UnitCosts
from slab_core.numerics.budget import Budget

Parts = dict[WorkabilityCause, float]

_FOR: dict[WorkabilityCause, str] = {
    "areas": "for primer, pins, borders and what the slab drinks",
    "by-hand": "for placing by hand",
    "days": "for days of pouring",
    "set-ups": "for setting up the grinder",
    "whole-bags": "for bags that are opened whole",
    "heights": "for heights that can be placed",
}


def workability_of_plane(plan: Plan, *, task: Task, budget: Budget) -> Plan:
    """A plan that brings the whole field to one plane, with what its placing costs; others as they are.

    Raises
    ------
    Stopped
        the caller ended it.
    """
    if plan.plane is None or plan.trowelled is not None:
        return plan
    shapes_cost = least_volume(task=task, budget=budget)
    if shapes_cost is None:
        return plan
    costs = task.case.costs
    mixed = plan.fill_m3 * 1e3 * costs.bags_per_m2_mm + plan.fill_m2 * costs.bags_per_m2_texture
    quantities = Quantities(
        bags=plan.bags,
        unrounded_bags=mixed,
        filled_m2=plan.fill_m2,
        border_m=plan.border_m,
        pour_days=plan.pour_days,
        machine_hours=plan.grinder_hours,
        hand_hours=plan.hand_grinder_hours,
    )
    cost = plan.solve.objective - sum(work.cost for work in plan.doorways)
    parts = _parts(quantities, costs=costs)
    parts["areas"] += plan.ending_m * task.placing.per_dam_m
    told = _told(cost=cost, shapes_cost=shapes_cost, parts=parts, shapes="cheapest plane")
    return replace(plan, workability=told)


def workability_of_placed(placed: Placed, *, shapes_cost: float) -> Workability:
    """Of a floor that is placed in any way, beside the cheapest heights that were drawn: its own, if those of
    `shapes_cost` take more."""
    parts = _parts(placed.work.quantities, costs=placed.task.case.costs)
    parts = _with_hand(parts, placed=placed)
    own = placed.cost - sum(parts.values())
    return _told(
        cost=placed.cost,
        shapes_cost=min(shapes_cost, own),
        parts=parts,
        shapes="cheapest heights that were drawn for it",
    )


def beside_optimum(plan: Plan) -> Plan:
    """A plan with its workability counted from the unrestricted optimum, which stands beside it; as it is
    where it lacks either."""
    told, optimum = plan.workability, plan.unrestricted
    if told is None or optimum is None or optimum.status not in ("optimal", "feasible"):
        return plan
    parts: Parts = {part.cause: part.cost for part in told.parts if part.cause != "heights"}
    told = _told(cost=told.cost, shapes_cost=optimum.cost, parts=parts, shapes="cheapest heights of all")
    return replace(plan, workability=told)


def _with_hand(parts: Parts, *, placed: Placed) -> Parts:
    """What a trowel adds: hours, and what patch costs more than as much compound; of its areas and whole bags
    what a pour's are."""
    costs, placing, by_hand = placed.task.case.costs, placed.task.placing, placed.by_hand
    mixed = sum(part.bags for part in by_hand)
    drunk = sum(part.area_m2 for part in by_hand) * placing.bags_per_m2_texture
    filled = mixed - drunk
    poured = filled / placing.bags_per_m2_mm * costs.bags_per_m2_mm * costs.per_bag
    return {
        **parts,
        "areas": parts["areas"] + placed.ending_m * placing.per_dam_m + drunk * placing.per_bag,
        "whole-bags": parts["whole-bags"] + max(0.0, placed.patch_bags - mixed) * placing.per_bag,
        "by-hand": filled * placing.per_bag - poured + placed.hand_hours() * placing.per_ph,
    }


def _parts(quantities: Quantities, *, costs: UnitCosts) -> Parts:
    """What a plan of these quantities pays beside its volumes."""
    q = quantities
    set_ups = ceil((q.machine_hours + q.hand_hours) / GRINDING_HOURS_PER_DAY)
    per_m2 = costs.per_m2_filled + costs.bags_per_m2_texture * costs.per_bag
    return {
        "areas": q.filled_m2 * per_m2 + q.border_m * costs.per_border_m,
        "days": q.pour_days * costs.per_pour_day,
        "set-ups": set_ups * costs.grinder_set_up_hours * costs.per_grinding_hour,
        "whole-bags": max(0.0, q.bags - q.unrounded_bags) * costs.per_bag,
    }


def _told(*, cost: float, shapes_cost: float, parts: Parts, shapes: str) -> Workability:
    """The parts, the greatest first, with the rest as what the heights cost more."""
    least = min(shapes_cost, cost)
    every: Parts = {**parts, "heights": cost - least - sum(parts.values())}
    found = sorted(every.items(), key=lambda part: (-part[1], part[0]))
    kept = tuple(WorkabilityPart(cause=cause, cost=amount) for cause, amount in found if amount != 0.0)
    listed = ", ".join(f"{part.cost:.2f} {_FOR[part.cause]}" for part in kept if abs(part.cost) >= 0.005)
    words = f"placing it costs {cost - least:.2f} more than the {shapes} by volume alone"
    return Workability(
        cost=cost, shapes_cost=least, parts=kept, words=f"{words}: {listed}." if listed else f"{words}."
    )
