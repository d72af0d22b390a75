"""Where the heights of an earlier plan cannot be kept: by the rules, or by what a crew must not cross."""

from dataclasses import replace

import numpy as np

from slab_core.correction.evaluate import to_mm
from slab_core.correction.model import Plan
from slab_core.correction.task import Task
from slab_core.errors import Problem
from slab_core.numerics.grid import ERROR_STEP_M, STEP_MM, Ints, to_metres

GRINDING, FILL = "grinding-beyond-limit", "fill-beyond-limit"
BREAKS = (GRINDING, FILL, "still-failing-after-correction")

SURE_SD = 3.0
"""A limit that the earlier plan just kept is crossed by a hair once the slab is read again: that much is no
reason to give up its heights."""

CHECK = "check that the new readings are in the datum of the first ones"


def with_limits(kept: Plan, *, task: Task, compound: Ints) -> Plan:
    """The plan with its findings on limits as refusals where it crosses them surely. What is ground off
    `compound` (storage steps of thickness as planned) is no grinding of the slab, whose stone the limit
    spares."""
    error_mm = to_metres(task.surface.error, step_m=ERROR_STEP_M) * 1e3
    over = {
        GRINDING: to_mm(np.maximum(kept.grind - compound, 0)) - task.case.grind_cap_mm,
        FILL: to_mm(kept.fill) - task.case.fill_cap_mm,
    }
    told: list[Problem] = []
    for problem in kept.problems:
        if problem.code not in over:
            told.append(problem)
        elif over[problem.code].max() > STEP_MM:
            surely = bool((over[problem.code] > SURE_SD * error_mm + STEP_MM).any())
            told.append(replace(problem, severity="refusal") if surely else problem)
    return replace(kept, problems=tuple(told))


def holds(kept: Plan) -> bool:
    """Whether the heights can be kept."""
    return kept.passes and not any(problem.severity == "refusal" for problem in kept.problems)


def why_let_go(kept: Plan) -> Problem:
    """For a crew that has set its pins by the earlier plan: that they count no more, and why."""
    why = " ".join(problem.detail for problem in kept.problems if problem.code in BREAKS)
    detail = (
        f"floor {kept.floor_id}: the heights of the plan that is followed cannot be kept, so what is left "
        "has new ones and pins that were set for that plan count no more. "
        f"{why or 'A doorway or a ramp would miss its height.'} Before anything is set out anew {CHECK}"
    )
    return Problem(code="heights-let-go", detail=detail)


def refused_beyond_limits(kept: Plan) -> Plan:
    """The plan as none at all where it crosses limits: no other heights within them pass either."""
    if not any(problem.severity == "refusal" for problem in kept.problems):
        return kept
    told = (
        replace(
            problem,
            detail=f"{problem.detail} The heights of the plan that is followed ask for it, and no others "
            f"within the limits pass: {CHECK}; if the slab is like that, change the limits",
        )
        if problem.severity == "refusal"
        else problem
        for problem in kept.problems
    )
    return replace(kept, passes=False, solve=replace(kept.solve, status="infeasible"), problems=tuple(told))
