"""All errors of a surface that its readings do not show: relief between them, and a scanner's bias."""

from dataclasses import replace

import numpy as np

from slab_core.numerics.grid import ERROR_STEP_M, Grid, to_metres, to_steps
from slab_core.surface.model import Spline, Surface
from slab_core.surface.relief import relief_field
from slab_core.surface.waves import Waves, together, waves_over

TOGETHER_SHARE = 0.5
"""Of the variance of a bias, what moves all heights alike; the rest bends the floor over some metres, as a
scanner's angles and mixed ranges do (common practice, no single source)."""

BIAS_KNOT_M = 1.5


def unseen_fields(*, spline: Spline, grid: Grid) -> tuple[Waves, ...]:
    """The independent errors at the grid's nodes beside what the fit itself leaves unknown."""
    fields = [relief_field(spline=spline, grid=grid)]
    if spline.bias_sd_m:
        bent = np.full((grid.ny, grid.nx), spline.bias_sd_m * np.sqrt(1.0 - TOGETHER_SHARE))
        fields.append(together(grid, sd_m=spline.bias_sd_m * float(np.sqrt(TOGETHER_SHARE))))
        fields.append(waves_over(grid, sd_m=bent, knot_m=BIAS_KNOT_M))
    return tuple(fields)


def with_bias(surface: Surface, *, sd_m: float) -> Surface:
    """The surface with a bias of its readings in its errors and draws, beside what the fit says."""
    error = np.hypot(to_metres(surface.error, step_m=ERROR_STEP_M), sd_m)
    spline = replace(surface.spline, bias_sd_m=sd_m)
    return replace(surface, error=to_steps(error, step_m=ERROR_STEP_M), spline=spline)
