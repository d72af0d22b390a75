"""The best plane of one task and a bound that no allowed plane can beat."""

import numpy as np

from slab_core.correction.cheapest import Lowest, lowest_relaxed
from slab_core.correction.feasible import Caps
from slab_core.correction.kernels import FLAT_MM
from slab_core.correction.relaxation import Relaxation, fixed_charges, relax
from slab_core.correction.search import improve
from slab_core.correction.task import Task
from slab_core.correction.work import SKIN_MM, Work
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats


def best_plane(*, task: Task, budget: Budget) -> tuple[Floats, float] | None:
    """The best plane found and the bound over three ways to work: both, fill alone, grinding alone."""
    case, doors = task.case, task.doors
    relaxation = relax(case=case)
    both = Caps(grind_mm=case.grind_cap_mm, fill_mm=case.fill_cap_mm)

    def lowest(caps: Caps, beat: float = np.inf, near: tuple[Floats, ...] = ()) -> Lowest:
        return lowest_relaxed(
            case=case, relaxation=relaxation, doors=doors, caps=caps, beat=beat, budget=budget, starts=near
        )

    first = lowest(both, near=_guesses(task))
    if first.abc_mm is None:
        return None
    starts = [first.abc_mm]
    if case.least_mm > 0.0:
        lifted = lowest(Caps(grind_mm=-case.least_mm, fill_mm=case.fill_cap_mm), near=(first.abc_mm,))
        starts += [lifted.abc_mm] if lifted.abc_mm is not None else []
    best = improve(case=case, doors=doors, starts=tuple(starts), budget=budget)
    bound = first.bound + fixed_charges(costs=case.costs, fills=True, grinds=True)
    for fills, caps in (
        (True, Caps(grind_mm=min(SKIN_MM, case.grind_cap_mm), fill_mm=case.fill_cap_mm)),
        (False, Caps(grind_mm=case.grind_cap_mm, fill_mm=min(SKIN_MM, case.fill_cap_mm))),
    ):
        fixed = fixed_charges(costs=case.costs, fills=fills, grinds=not fills)
        beat = np.inf if best is None else best[1].cost - fixed
        one = lowest(caps, beat=beat, near=(first.abc_mm,))
        bound = min(bound, one.bound + fixed)
        if one.abc_mm is not None and one.bound < beat:
            best = _better(task=task, best=best, start=one.abc_mm, budget=budget)
    if best is None:
        return None
    return best[0], bound - _rounding(task=task, relaxation=relaxation)


def _better(
    *, task: Task, best: tuple[Floats, Work] | None, start: Floats, budget: Budget
) -> tuple[Floats, Work] | None:
    """The better of what is known and what a search from here finds; a skin higher nothing need be ground."""
    raised = start + np.array([SKIN_MM, 0.0, 0.0])
    found = improve(case=task.case, doors=task.doors, starts=(start, raised), budget=budget)
    if best is None or found is None:
        return best or found
    return found if found[1].cost < best[1].cost else best


def _guesses(task: Task) -> tuple[Floats, ...]:
    """The plane of least squares and planes above it, where the cheapest one usually lies."""
    nodes = task.case.nodes
    design = np.column_stack([np.ones_like(nodes.u), nodes.u, nodes.v])
    fit, *_ = np.linalg.lstsq(design, nodes.z_mm, rcond=None)
    spread = float(np.std(nodes.z_mm - design @ fit))
    return tuple(fit + np.array([share * spread, 0.0, 0.0]) for share in (0.0, 1.0, 2.0))


def _rounding(*, task: Task, relaxation: Relaxation) -> float:
    """The most that rounding heights to storage steps could save."""
    area = float(task.case.nodes.area_m2.sum())
    return FLAT_MM * area * max(relaxation.slope, float(relaxation.hinge[0, 0]))
