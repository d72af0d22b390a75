"""A regular grid of nodes over a floor, and the integers that heights are stored as."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

HEIGHT_STEP_M = 1e-5
STEP_MM = HEIGHT_STEP_M * 1e3
"""Heights, fills and grinds are stored as integers of 0.01 mm."""

ERROR_STEP_M = 1e-6
"""Standard errors are stored as integers of 0.001 mm."""

Floats = NDArray[np.float64]
Reals = NDArray[np.floating[Any]]
Ints = NDArray[np.int32]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Nodes at x0 + i·step, y0 + j·step in metres; arrays over it have the shape (ny, nx)."""

    x0_m: float
    y0_m: float
    step_m: float
    nx: int
    ny: int

    def xs(self) -> Floats:
        """x of the columns in metres, shape (nx,)."""
        return np.asarray(self.x0_m + self.step_m * np.arange(self.nx), dtype=np.float64)

    def ys(self) -> Floats:
        """y of the rows in metres, shape (ny,)."""
        return np.asarray(self.y0_m + self.step_m * np.arange(self.ny), dtype=np.float64)

    def places(self) -> Floats:
        """All nodes, row by row, shape (ny · nx, 2)."""
        xs, ys = np.meshgrid(self.xs(), self.ys())
        return np.column_stack([xs.ravel(), ys.ravel()])

    def cell_area_m2(self) -> float:
        """Area that one node stands for."""
        return self.step_m**2


def to_steps(values_m: Floats, *, step_m: float = HEIGHT_STEP_M) -> Ints:
    """Metres as whole storage steps (ties to even)."""
    return np.rint(values_m / step_m).astype(np.int32)


def to_metres(steps: Ints, *, step_m: float = HEIGHT_STEP_M) -> Floats:
    """Storage steps as metres."""
    return steps.astype(np.float64) * step_m
