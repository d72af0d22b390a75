"""A ruled surface: straight along the bays and straight across them, so that it may twist to meet doors."""

from dataclasses import dataclass

import numpy as np

from slab_core.correction.feasible import caps
from slab_core.correction.linear import LinearProgramme
from slab_core.correction.task import Task
from slab_core.correction.work import SKIN_MM, Work, breaks_limits, classify, work_of_depths
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats

FIRST_STEP_MM, LAST_STEP_MM = 1.6, 0.2
FREE_MM = 1e4
MOST_ROUNDS = 60
_MOVES = np.array(
    [
        (1.0, 0.0, 0.0, 0.0),
        (0.0, 1.0, 0.0, 0.0),
        (0.0, 0.0, 1.0, 0.0),
        (0.0, 0.0, 0.0, 1.0),
        (0.5, 0.5, 0.5, 0.5),
        (0.5, 0.5, -0.5, -0.5),
        (0.5, -0.5, 0.5, -0.5),
        (0.5, -0.5, -0.5, 0.5),
    ]
)
"""Moves of (height, tilt along x and y, twist): singly, and those that lift one corner alone."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ruled:
    """a + b·u + c·v + e·p·q in mm, p and q being u and v turned to the bays, and the work of bringing the
    floor to it."""

    abce_mm: Floats
    work: Work


def height_of(*, task: Task, abce_mm: Floats) -> Floats:
    """Heights of the surface at all nodes, in mm."""
    nodes = task.case.nodes
    return np.asarray(_design(task=task, u=nodes.u, v=nodes.v) @ abce_mm, dtype=np.float64)


def best_ruled(*, task: Task, start: Floats | None, budget: Budget) -> Ruled | None:
    """A cheap ruled surface within the limits and the doorways' ranges, from a plane (a, b, c) or, without
    one, from the lowest surface that is allowed; None if there is none."""
    first = np.append(start, 0.0) if start is not None else _lowest(task=task, budget=budget)
    if first is None:
        return None
    best = _allowed(task=task, abce_mm=first)
    if best is None:
        return None
    step, moves = FIRST_STEP_MM, np.concatenate([_MOVES, -_MOVES])
    while step >= LAST_STEP_MM and budget.left_s() > 0.0:
        better = None
        for move in moves:
            tried = _allowed(task=task, abce_mm=best.abce_mm + step * move)
            if tried is not None and tried.work.cost < best.work.cost - 1e-6:
                better = best = tried
        step = step if better is not None else step / 2
    return best


def twist_per_m2(*, task: Task, twist_mm: float) -> float:
    """The rise in m for each m² of across × along."""
    return twist_mm * 1e-3 / task.case.nodes.reach**2


def _design(*, task: Task, u: Floats, v: Floats) -> Floats:
    bays = task.case.nodes.bays
    p, q = bays.turned(x=u, y=v)
    return np.column_stack([np.ones_like(u), u, v, p * q])


def _door_rows(task: Task) -> list[tuple[Floats, float, float]]:
    """The range at both ends of every doorway. A doorway is so short that the twist bends nothing in it."""
    rows = []
    for door in task.doors:
        x, y = np.array(door.ends()).T
        u, v = task.case.nodes.scaled(x=x, y=y)
        rows += [(row, door.low_m * 1e3, door.high_m * 1e3) for row in _design(task=task, u=u, v=v)]
    return rows


def _allowed(*, task: Task, abce_mm: Floats) -> Ruled | None:
    if any(not low - 1e-3 <= float(row @ abce_mm) <= high + 1e-3 for row, low, high in _door_rows(task)):
        return None
    depth = height_of(task=task, abce_mm=abce_mm) - task.case.nodes.z_mm
    state = classify(case=task.case, depth_mm=depth, skin_mm=SKIN_MM)
    work = work_of_depths(case=task.case, depth_mm=depth, state=state)
    return None if breaks_limits(case=task.case, work=work) else Ruled(abce_mm=abce_mm, work=work)


def _lowest(*, task: Task, budget: Budget) -> Floats | None:
    """The lowest mean height that keeps caps and doorways: little fill, as grinding is held by its cap."""
    nodes, case = task.case.nodes, task.case
    limits = caps(case, grind_mm=case.grind_cap_mm, fill_mm=case.fill_cap_mm)
    design = _design(task=task, u=nodes.u, v=nodes.v)
    weight = nodes.area_m2 / nodes.area_m2.sum()
    programme = LinearProgramme(cost=weight @ design, low=np.full(4, -FREE_MM), high=np.full(4, FREE_MM))
    for row, low, high in _door_rows(task):
        programme.add_row(coefficients=row, low=low, high=high)
    for _ in range(MOST_ROUNDS):
        answer = programme.solve()
        if answer is None or budget.left_s() <= 0.0:
            return None
        depth = design @ answer.x - nodes.z_mm
        below, above = -depth - limits.grind_mm, depth - limits.fill_mm
        lowest, highest = int(np.argmax(below)), int(np.argmax(above))
        over = max(below[lowest], above[highest])
        if over <= 1e-4:
            return answer.x
        programme.add_row(
            coefficients=design[lowest], low=float(nodes.z_mm[lowest] - limits.grind_mm[lowest])
        )
        high_mm = float(nodes.z_mm[highest] + limits.fill_mm[highest])
        programme.add_row(coefficients=design[highest], high=high_mm)
    return None
