"""Grinding where fresh compound lies: it takes a part of the time that concrete takes."""

from dataclasses import replace

import numpy as np
from scipy import ndimage

from slab_core.correction.evaluate import to_mm
from slab_core.correction.model import GrindArea, Plan
from slab_core.correction.task import Task
from slab_core.correction.unit_costs import MM, weighted_depth
from slab_core.numerics.grid import Floats, Ints, Mask

COMPOUND_SHARE = 0.35
"""Day-old compound is ground in 0.3 to 0.4 of the time of ordinary concrete (common practice, no single
source)."""


def on_compound(plan: Plan, *, task: Task, where: Mask) -> Plan:
    """The plan with the hours of its grinding where compound lies (`where`, shape (ny, nx)) cut down."""
    if not ((plan.grind > 0) & where).any():
        return plan
    share = np.where(where, _of_concrete(task), 1.0)
    found, _ = ndimage.label(plan.grind > 0, structure=np.ones((3, 3), dtype=bool))
    labels = np.asarray(found, dtype=np.int32)
    areas = tuple(
        _slower(area, plan=plan, task=task, share=share, labels=labels) for area in plan.grind_areas
    )
    saved = sum(
        before.machine_hours + before.hand_hours - after.machine_hours - after.hand_hours
        for before, after in zip(plan.grind_areas, areas, strict=True)
    )
    objective = plan.solve.objective - saved * task.case.costs.per_grinding_hour
    return replace(
        plan,
        grind_areas=areas,
        grinder_hours=sum(area.machine_hours for area in areas),
        hand_grinder_hours=sum(area.hand_hours for area in areas),
        solve=replace(plan.solve, objective=max(0.0, objective)),
    )


def _of_concrete(task: Task) -> float:
    """Compound is as hard whatever the slab is; the task's hours hold the slab's own factor."""
    rates = task.rates
    ordinary = rates.grinding_overhead * rates.hardness_factors["ordinary"] * MM / rates.grinder_m3_per_mh
    return COMPOUND_SHARE * ordinary / task.case.costs.hours_per_m2_mm


def _slower(area: GrindArea, *, plan: Plan, task: Task, share: Floats, labels: Ints) -> GrindArea:
    nodes, costs, grid = task.case.nodes, task.case.costs, plan.grid
    i, j = round((area.at[0] - grid.x0_m) / grid.step_m), round((area.at[1] - grid.y0_m) / grid.step_m)
    mine = (labels == labels[j, i])[plan.inside]
    depth = np.where(mine, to_mm(plan.grind[plan.inside]), 0.0)
    weighted = nodes.area_m2 * weighted_depth(depth_mm=depth, costs=costs) * share[plan.inside]
    return replace(
        area,
        machine_hours=float(weighted @ (1.0 - nodes.hand)) * costs.hours_per_m2_mm,
        hand_hours=float(weighted @ nodes.hand) * costs.hand_hours_per_m2_mm,
    )
