"""What a person must know about the fit: misreads, doubtful readings, and where too little was measured."""

import numpy as np

from slab_core.errors import Problem
from slab_core.numerics.grid import Floats
from slab_core.rooms.distances import said_place
from slab_core.rooms.model import Floor
from slab_core.surface.model import Misread, SuspectedStep
from slab_core.surface.relief import observed_at
from slab_core.surface.robust import Robust
from slab_core.surveys.agreement import ALLOWED_SD
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
    found, at = robust.fitted.deleted, observed_at(seen)
    return tuple(
        Misread(
            pointer=seen.pointer[i],
            x_m=float(at[i, 0]),
            y_m=float(at[i, 1]),
            residual_m=float(found.residual_m[i]),
            expected_sd_m=float(found.sd_m[i]),
        )
        for i in _left_out(robust)
    )


def misread_problems(*, floor: Floor, seen: Observations, robust: Robust) -> tuple[Problem, ...]:
    """One finding for each reading left out, largest first."""
    sd, at = robust.fitted.deleted.sd_m, observed_at(seen)
    return tuple(
        Problem(
            code="misread",
            pointer=seen.pointer[i],
            detail=f"the reading {_said(floor, *at[i])} is {_off(i, seen=seen, robust=robust)} than the "
            f"readings around it allow (expected within {_within(2 * float(sd[i]))}); it was left out: "
            "measure again there",
        )
        for i in _left_out(robust)
    )


def _left_out(robust: Robust) -> list[int]:
    residual = np.abs(robust.fitted.deleted.residual_m)
    return sorted(np.flatnonzero(robust.left_out).tolist(), key=lambda i: -float(residual[i]))


def _off(i: int, *, seen: Observations, robust: Robust) -> str:
    """How much higher or lower the floor would be by a reading; a wider gap is a lower floor."""
    weight = seen.weight[i]
    return _amount(float(robust.fitted.deleted.residual_m[i] * np.sign(weight[np.abs(weight).argmax()])))


def doubtful_problems(*, floor: Floor, seen: Observations, robust: Robust) -> tuple[Problem, ...]:
    """One finding for each odd reading that stayed in because it may be real."""
    at, large = observed_at(seen), np.abs(robust.fitted.deleted.residual_m) > LEAST_DOUBT_M
    return tuple(
        Problem(
            code="doubtful-reading",
            pointer=seen.pointer[i],
            detail=f"the reading {_said(floor, *at[i])} is {_off(i, seen=seen, robust=robust)} than its "
            "neighbours suggest; it may be a misread or a real hump, dip or step, so it was kept: measure "
            "again there and at places about a foot around it",
        )
        for i in np.flatnonzero(robust.doubtful & large).tolist()
    )


def shared_problems(*, seen: Observations, robust: Robust) -> tuple[Problem, ...]:
    """One finding for each setup that the floor shows to be off by more than its ties allow."""
    found = robust.fitted.smoothed.found
    own = found.beside[len(found.beside) - found.design.shared :]
    sds = seen.shared_m.max(axis=0, initial=0.0)
    return tuple(
        Problem(
            code="setup-off",
            pointer=pointer,
            detail=f"from this setup the floor is {_amount(float(share) * sd)} than from the others, where "
            f"its ties to the benchmarks allow {_within(ALLOWED_SD * sd)} (99.9 %); its readings were moved "
            "by that: shoot its benchmark again",
        )
        for share, sd, pointer in zip(own, sds, seen.shared_by, strict=False)
        if abs(share) > ALLOWED_SD
    )


def suspected_problems(*, floor: Floor, suspected: tuple[SuspectedStep, ...]) -> tuple[Problem, ...]:
    """One finding for each line that looks like a step which nobody declared."""
    return tuple(
        Problem(
            code="step-suspected",
            detail="the floor looks as if it stepped along the straight line that begins "
            f"{_said(floor, *step.start)} and ends {_said(floor, *step.end)}: seen from its beginning the "
            f"{'left' if step.height_m > 0 else 'right'} side is higher by {_within(abs(step.height_m))} ± "
            f"{_within(2.0 * step.sd_m)} (95 %). The surface is fitted without it: look for a joint or a "
            "crack, which may run beside that line by as much as the readings lie apart; measure 4-6 in "
            "(100-150 mm) off it on both sides, and if the slab steps, give the line with the room's joints",
        )
        for step in suspected
    )


def sparse_problems(
    *, floor: Floor, places: Floats, error_m: Floats, nearest_m: Floats
) -> tuple[Problem, ...]:
    """Places on the floor that nobody measured, the worst first, no two of them within FAR_M.

    `places`, shape (n, 2), lie on the floor; `nearest_m` is their distance to the nearest reading.
    """
    open_ = (nearest_m > FAR_M) | (error_m > WIDE_ERROR_M)
    problems: list[Problem] = []
    while open_.any() and len(problems) < MOST_SPARSE:
        worst = int(np.where(open_, error_m, -1.0).argmax())
        x, y = places[worst]
        problems.append(
            Problem(
                code="measure-more-here",
                detail=f"{_said(floor, x, y)} the nearest reading is {_away(float(nearest_m[worst]))} away "
                f"and the height is known only to ±{_within(2 * float(error_m[worst]))} (95 %): take more "
                "readings there",
            )
        )
        open_ &= np.hypot(places[:, 0] - x, places[:, 1] - y) > FAR_M
    return tuple(problems)
