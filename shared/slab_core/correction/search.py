"""From good starts to a good plane: small moves priced exactly, with whole bags, days and keys."""

from collections.abc import Callable

import numpy as np

from slab_core.correction.feasible import door_rows
from slab_core.correction.thresholds import DoorRange
from slab_core.correction.work import SKIN_MM, Case, Work, breaks_limits, work_of_plane
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats

Row = tuple[Floats, float, float]
"""Coefficients of (a, b, c), low, high."""

FIRST_STEP_MM = 1.6
LAST_STEP_MM = 0.1
DOOR_SLACK_MM = 1e-3

_UP, _TILT_X, _TILT_Y = np.eye(3)
_MOVES = np.array(
    [_UP, _TILT_X, _TILT_Y]
    + [(_UP + sign * tilt) / 2 for tilt in (_TILT_X, _TILT_Y) for sign in (1.0, -1.0)]
    + [(_TILT_X + sign * _TILT_Y) / 2 for sign in (1.0, -1.0)]
)
"""Moves of (a, b, c): up, tilted, and turned about each side; a mirrored room has the mirrored moves."""


def improve(
    *, case: Case, doors: tuple[DoorRange, ...], starts: tuple[Floats, ...], budget: Budget
) -> tuple[Floats, Work] | None:
    """The cheapest plane found from the starts, or None if none of them is allowed.

    Parts of bags first, because whole ones make small hollows in the cost that would hold the search.
    """
    rows = [row for door in doors for row in door_rows(case=case, door=door)]
    best: tuple[Floats, Work] | None = None
    for start in starts:
        here = _allowed(case=case, rows=rows, abc_mm=start)
        if here is None:
            continue
        rough = _descend(case=case, rows=rows, at=(start, here), price=_unrounded, budget=budget)
        for origin in ((start, here), rough):
            found = _descend(case=case, rows=rows, at=origin, price=_whole, budget=budget)
            if best is None or found[1].cost < best[1].cost:
                best = found
    return best


def _whole(work: Work) -> float:
    return work.cost


def _unrounded(work: Work) -> float:
    return work.cost_unrounded


def _descend(
    *,
    case: Case,
    rows: list[Row],
    at: tuple[Floats, Work],
    price: Callable[[Work], float],
    budget: Budget,
) -> tuple[Floats, Work]:
    """Take every move that helps and repeat it; halve the step when none does."""
    step = FIRST_STEP_MM
    moves = np.concatenate([_MOVES, -_MOVES])
    while step >= LAST_STEP_MM and budget.left_s() > 0.0:
        helped = False
        for move in moves:
            better = _moved(case=case, rows=rows, at=at, move=step * move, price=price)
            while better is not None:
                at, helped = better, True
                better = _moved(case=case, rows=rows, at=at, move=step * move, price=price)
        step = step if helped else step / 2
    return at


def _moved(
    *,
    case: Case,
    rows: list[Row],
    at: tuple[Floats, Work],
    move: Floats,
    price: Callable[[Work], float],
) -> tuple[Floats, Work] | None:
    """The moved plane, if it is allowed and cheaper."""
    there = at[0] + move
    work = _allowed(case=case, rows=rows, abc_mm=there)
    return (there, work) if work is not None and price(work) < price(at[1]) - 1e-6 else None


def _allowed(*, case: Case, rows: list[Row], abc_mm: Floats) -> Work | None:
    for row, low, high in rows:
        if not low - DOOR_SLACK_MM <= float(row @ abc_mm) <= high + DOOR_SLACK_MM:
            return None
    work = work_of_plane(case=case, abc_mm=abc_mm, skin_mm=SKIN_MM)
    return None if breaks_limits(case=case, work=work) else work
