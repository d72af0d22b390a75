"""Readings taken twice at one place."""

import numpy as np

from slab_core.errors import Problem
from slab_core.rooms.wording import length, place
from slab_core.surveys.agreement import ALLOWED_SD
from slab_core.surveys.findings import capped
from slab_core.surveys.model import Survey
from slab_core.surveys.naming import named
from slab_core.surveys.rows import HeightRows

_SAME_PLACE_M = 0.0001
_SAME_HEIGHT_M = 1e-9


def double_findings(*, rows: HeightRows, surveys: tuple[Survey, ...] = ()) -> tuple[Problem, ...]:
    """A finding for each reading at the place (to 0.1 mm) of an earlier one that contradicts or repeats it.

    Contradicting is a difference beyond what the accuracy of both allows at 99.9 %; repeating, the
    same height to the nanometre, as if it had been posted twice. Both readings stay in use. Surveys between
    which work was done may contradict each other.
    """
    steps_x, steps_y = (np.rint(at / _SAME_PLACE_M).astype(np.int64) for at in (rows.x_m, rows.y_m))
    # Both fit one integer, since no place is farther out than 100 km; sorting one column is ten times faster.
    _, first, which = np.unique(steps_x * 2**32 + steps_y, return_index=True, return_inverse=True)
    earlier = first[which]
    apart = np.abs(rows.height_m - rows.height_m[earlier])
    allowed = ALLOWED_SD * np.hypot(rows.sd_m, rows.sd_m[earlier])
    again = earlier != np.arange(len(earlier))
    found = np.flatnonzero(again & ((apart > allowed) | (apart <= _SAME_HEIGHT_M)))
    pairs = (
        (row, int(earlier[row]))
        for row in found.tolist()
        if _same_slab(rows, row, int(earlier[row]), surveys=surveys)
    )
    return capped(
        _finding(rows, row=row, other=other, apart_m=float(apart[row]), allowed_m=float(allowed[row]))
        for row, other in pairs
    )


def _same_slab(rows: HeightRows, row: int, other: int, *, surveys: tuple[Survey, ...]) -> bool:
    one, two = (int(rows.pointer(at).split("/")[2]) for at in (row, other))
    return one == two or not surveys or set(surveys[one].after) == set(surveys[two].after)


def _finding(rows: HeightRows, *, row: int, other: int, apart_m: float, allowed_m: float) -> Problem:
    where, before = named(rows.pointer(row)), named(rows.pointer(other))
    at = place((float(rows.x_m[row]), float(rows.y_m[row])))
    if apart_m <= _SAME_HEIGHT_M:
        detail = f"{where} repeats {before}, at {at}; both are used: if it was posted twice, take one out"
        return Problem(code="reading-repeated", detail=detail, pointer=rows.pointer(row))
    detail = (
        f"{where} differs by {length(apart_m)} from {before} at the same place, {at}, where their accuracy "
        f"allows {length(allowed_m)}; both are used: read the place again"
    )
    return Problem(code="readings-contradict", detail=detail, pointer=rows.pointer(row))
