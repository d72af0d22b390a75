"""What a person must know about the fit: misreads, doubtful readings, and where too little was measured."""

import numpy as np
from scipy.spatial import cKDTree

from slab_core.errors import Problem
from slab_core.numerics.grid import Floats, Grid, Mask
from slab_core.rooms.distances import said_place
from slab_core.rooms.model import Floor
from slab_core.surface.model import Misread
from slab_core.surface.robust import Robust
from slab_core.surveys.model import Observations
from slab_core.units.display import feet_inches

INCH_M = 0.0254
LEAST_DOUBT_M = 0.003
"""Odd readings of less than about 1/8 in are not worth a trip with the level."""

FAR_M = 1.5
"""A floor farther than this (5 ft) from every reading is not measured (common practice, no single source)."""

WIDE_ERROR_M = 0.003
MOST_SPARSE = 5


def _said(floor: Floor, x: float, y: float) -> str:
    return said_place(floor=floor, at=(float(x), float(y)))


def _within(metres: float) -> str:
    return f"{metres / INCH_M:.2f} in ({metres * 1000:.1f} mm)"


def _away(metres: float) -> str:
    return f"{feet_inches(metres, denominator=2)} ({metres:.2f} m)"


def _amount(metres: float) -> str:
    word = "higher" if metres > 0 else "lower"
    return f"{abs(metres) / INCH_M:.2f} in ({abs(metres) * 1000:.1f} mm) {word}"


def misreads_of(*, seen: Observations, robust: Robust) -> tuple[Misread, ...]:
    """The readings left out, largest first."""
    found, at = robust.fitted.deleted, np.abs(seen.weight).argmax(axis=1)
    rows = sorted(np.flatnonzero(robust.left_out), key=lambda i: -abs(found.residual_m[i]))
    return tuple(
        Misread(
            pointer=seen.pointer[i],
            x_m=float(seen.x_m[i, at[i]]),
            y_m=float(seen.y_m[i, at[i]]),
            residual_m=float(found.residual_m[i]),
            expected_sd_m=float(found.sd_m[i]),
        )
        for i in rows
    )


def misread_problems(*, floor: Floor, misreads: tuple[Misread, ...]) -> tuple[Problem, ...]:
    """One finding for each reading left out."""
    return tuple(
        Problem(
            code="misread",
            pointer=m.pointer,
            detail=f"the reading {_said(floor, m.x_m, m.y_m)} is {_amount(m.residual_m)} than the readings "
            f"around it allow (expected within {_within(2 * m.expected_sd_m)}); it was left out: measure "
            "again there",
        )
        for m in misreads
    )


def doubtful_problems(*, floor: Floor, seen: Observations, robust: Robust) -> tuple[Problem, ...]:
    """One finding for each odd reading that stayed in because it may be real."""
    found, at = robust.fitted.deleted, np.abs(seen.weight).argmax(axis=1)
    rows = np.flatnonzero(robust.doubtful & (np.abs(found.residual_m) > LEAST_DOUBT_M))
    return tuple(
        Problem(
            code="doubtful-reading",
            pointer=seen.pointer[i],
            detail=f"the reading {_said(floor, seen.x_m[i, at[i]], seen.y_m[i, at[i]])} is "
            f"{_amount(float(found.residual_m[i]))} than its neighbours suggest; it may be a misread or a "
            "real hump, dip or step, so it was kept: measure again there and at places about a foot "
            "around it",
        )
        for i in rows
    )


def sparse_problems(
    *, floor: Floor, grid: Grid, inside: Mask, error_m: Floats, seen: Observations, kept: Mask
) -> tuple[Problem, ...]:
    """Places on the floor that nobody measured, the worst first, no two of them within FAR_M."""
    used = kept[:, None] & (seen.weight != 0.0)
    xs, ys = (axis[inside] for axis in np.meshgrid(grid.xs(), grid.ys()))
    nodes = np.column_stack([xs, ys])
    error = error_m[inside]
    if not len(nodes):
        return ()
    measured = cKDTree(np.column_stack([seen.x_m[used], seen.y_m[used]]))
    distance = np.asarray(measured.query(nodes)[0])
    open_ = (distance > FAR_M) | (error > WIDE_ERROR_M)
    problems: list[Problem] = []
    while open_.any() and len(problems) < MOST_SPARSE:
        worst = int(np.where(open_, error, -1.0).argmax())
        x, y = nodes[worst]
        problems.append(
            Problem(
                code="measure-more-here",
                detail=f"{_said(floor, x, y)} the nearest reading is {_away(float(distance[worst]))} away "
                f"and the height is known only to ±{_within(2 * float(error[worst]))} (95 %): take more "
                "readings there",
            )
        )
        open_ &= np.hypot(nodes[:, 0] - x, nodes[:, 1] - y) > FAR_M
    return tuple(problems)
