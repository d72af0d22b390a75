"""An error that all heights of a floor share, which no fit of them can see."""

from dataclasses import replace

import numpy as np

from slab_core.numerics.grid import ERROR_STEP_M, to_metres, to_steps
from slab_core.surface.model import Surface


def with_common_error(surface: Surface, *, sd_m: float) -> Surface:
    """The surface with `sd_m` in its standard errors, beside what the fit says.

    Samples drawn from its spline do not have it: they show what differs from place to place.
    """
    error = np.hypot(to_metres(surface.error, step_m=ERROR_STEP_M), sd_m)
    return replace(surface, error=to_steps(error, step_m=ERROR_STEP_M))
