"""The plane through the readings themselves, before anything is fitted or left out."""

import numpy as np

from slab_core.surface.model import ReadingsPlane
from slab_core.surveys.model import Observations


def readings_plane(*, observations: Observations) -> ReadingsPlane:
    """Ordinary least squares over all height observations; there are at least three, not on one line."""
    heights = (observations.weight[:, 1:] == 0.0).all(axis=1)
    x, y = observations.x_m[heights, 0], observations.y_m[heights, 0]
    z = observations.value_m[heights]
    columns = np.column_stack([x - x.mean(), y - y.mean(), np.ones_like(x)])
    gram = columns.T @ columns
    found = np.linalg.solve(gram, columns.T @ z)
    residual = z - columns @ found
    variance = float(residual @ residual) / max(1, len(z) - 3)
    spread = np.sqrt(variance * np.linalg.inv(gram).diagonal())
    return ReadingsPlane(
        slope_x=float(found[0]),
        slope_y=float(found[1]),
        slope_x_sd=float(spread[0]),
        slope_y_sd=float(spread[1]),
        residual_m=float(np.sqrt(np.mean(residual**2))),
        largest_m=float(np.abs(residual).max()),
        heights=len(z),
    )
