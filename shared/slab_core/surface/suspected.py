"""Steps that nobody declared: lines across which the residuals of the smooth fit jump.

A line that stands out in the screening is fitted as a joint, and suggested when the restricted
likelihood gains much more than chance or a hump would give it. The surface itself is left as it is.
"""

from dataclasses import replace

import numpy as np

from slab_core.numerics.grid import Floats
from slab_core.rooms.model import Floor
from slab_core.surface.design import design
from slab_core.surface.joints import COLUMNS, step_columns
from slab_core.surface.model import SplineJoint, SuspectedStep
from slab_core.surface.robust import Robust, Task
from slab_core.surface.screening import placed, screened
from slab_core.surface.smoothing import Smoothed, choose

LEAST_READINGS = 30
MOST_SUGGESTED = 3
LEAST_GAIN = 60.0
"""In -2 ln(restricted likelihood): 5 mm steps under dense readings gain 90 or more, ridges up to 50."""

LEAST_STEP_M = 0.0025
LEAST_SDS = 5.0


def suspected_steps(*, floor: Floor, task: Task, robust: Robust) -> tuple[SuspectedStep, ...]:
    """Lines where a step would explain the readings much better, the likeliest first."""
    heights = (task.observations.weight[:, 1:] == 0.0).all(axis=1) & ~robust.left_out
    if heights.sum() < LEAST_READINGS:
        return ()
    found: list[SuspectedStep] = []
    smoothed, residual = robust.fitted.smoothed, _residual(task, robust.fitted.smoothed)
    shown = robust.fitted.deleted.residual_m
    while len(found) < MOST_SUGGESTED:
        lines = screened(floor=floor, task=task, robust=robust, rows=heights, residual_m=shown)
        joints = [
            placed(line=line, floor=floor, task=task, robust=robust, fit=smoothed, residual_m=residual)
            for line in lines
        ]
        best = _best_fitted(task=task, robust=robust, joints=joints, before=smoothed)
        if best is None:
            break
        task, smoothed, step = best
        found.append(step)
        shown = residual = _residual(task, smoothed)
    return tuple(found)


def _best_fitted(
    *, task: Task, robust: Robust, joints: list[SplineJoint | None], before: Smoothed
) -> tuple[Task, Smoothed, SuspectedStep] | None:
    best: tuple[float, Task, Smoothed, SuspectedStep] | None = None
    for joint in joints:
        if joint is None:
            continue
        with_joint = _with(task, joint)
        smoothed = choose(
            design=with_joint.design,
            precision=robust.fitted.used,
            value_m=task.value_m,
            start=before.log_smoothing,
            budget=task.budget,
            first_step=0.8,
        )
        step = _step(joint, smoothed)
        gain = before.criterion - smoothed.criterion
        sure = abs(step.height_m) > max(LEAST_STEP_M, LEAST_SDS * step.sd_m)
        if gain > LEAST_GAIN and sure and (best is None or gain > best[0]):
            best = (gain, with_joint, smoothed, step)
    return best[1:] if best else None


def _with(task: Task, joint: SplineJoint) -> Task:
    seen, made = task.observations, task.design
    again = design(
        basis=task.basis,
        x_m=seen.x_m,
        y_m=seen.y_m,
        weight=seen.weight,
        joints=(*made.joints, joint),
    )
    return replace(task, design=again)


def _step(joint: SplineJoint, smoothed: Smoothed) -> SuspectedStep:
    """Its mean height along the line, and that mean's standard error."""
    found = smoothed.found
    values = step_columns(joint=joint, share=np.linspace(0.0, 1.0, 21)).mean(axis=0)
    half = np.linalg.solve(found.schur, np.concatenate([np.zeros(len(found.schur) - COLUMNS), values]))
    return SuspectedStep(
        start=joint.start,
        end=joint.end,
        height_m=float(values @ found.beside[-COLUMNS:]),
        sd_m=float(np.sqrt(smoothed.noise * half @ half)),
    )


def _residual(task: Task, smoothed: Smoothed) -> Floats:
    fitted = task.predicted(smoothed)
    return np.asarray(task.value_m - fitted)
