"""How much higher some readings tell a floor than the others do: two surveys of one slab in two datums."""

from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Mask
from slab_core.rooms.model import Floor
from slab_core.surface.fit import robust_fit
from slab_core.surface.steps import joint_covariance
from slab_core.surveys.model import Observations

PRIOR_SD_M = 0.05
"""Wide beside what is left when neighbours have told the shift roughly."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """So much higher, and the standard error of that, in metres."""

    height_m: float
    sd_m: float


def shift_between(*, floor: Floor, seen: Observations, later: Mask, budget: Budget) -> Shift:
    """How much higher the marked of the heights `seen` tell the floor than the others, which all lie where
    nothing has changed between them.

    One unknown of the fit, as a setup's height is, so that what the floor does between places that only one
    of them read is counted. Heights tell a surface, marked or not.

    Raises
    ------
    Stopped
        when the budget says so.
    """
    rough = float(np.median(differences(seen, later=later)))
    column = np.where(later, PRIOR_SD_M, 0.0)[:, None]
    shared = seen.shared_m if len(seen.shared_m) else np.empty((len(later), 0))
    nearer = replace(
        seen, value_m=seen.value_m - np.where(later, rough, 0.0), shared_m=np.hstack([shared, column])
    )
    smoothed = robust_fit(floor=floor, observations=nearer, budget=budget).fitted.smoothed
    variance = float(joint_covariance(smoothed.found, noise=smoothed.noise)[-1, -1])
    height = rough + PRIOR_SD_M * float(smoothed.found.beside[-1])
    return Shift(height_m=height, sd_m=PRIOR_SD_M * float(np.sqrt(variance)))


def differences(seen: Observations, *, later: Mask) -> Floats:
    """How much higher each marked height is than the nearest of the others."""
    at = np.column_stack([seen.x_m[:, 0], seen.y_m[:, 0]])
    _, nearest = cKDTree(at[~later]).query(at[later])
    return np.asarray(seen.value_m[later] - seen.value_m[~later][nearest])
