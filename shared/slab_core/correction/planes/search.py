"""From good starts to a good plane: small moves priced exactly, with whole bags, days and keys."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from slab_core.correction.kernels import FLAT_MM
from slab_core.correction.task import Task
from slab_core.correction.work import SKIN_MM, Work, breaks_limits, work_of_plane
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats

TRIED_STARTS = 2
FIRST_STEP_MM = 0.8
LONG_STEP_MM = 1.6
LAST_STEP_MM = 0.1
ROW_SLACK_MM = 1e-3

_UP, _TILT_X, _TILT_Y = np.eye(3)
_MOVES = np.array(
    [_UP, _TILT_X, _TILT_Y]
    + [(_UP + sign * tilt) / 2 for tilt in (_TILT_X, _TILT_Y) for sign in (1.0, -1.0)]
    + [(_TILT_X + sign * _TILT_Y) / 2 for sign in (1.0, -1.0)]
)
"""Moves of (a, b, c): up, tilted, and turned about each side; a mirrored room has the mirrored moves."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spot:
    """A plane that is allowed, and its work."""

    abc_mm: Floats
    work: Work


def spot_at(*, task: Task, abc_mm: Floats) -> Spot | None:
    """The plane with its work, or None where a limit, a doorway or the family forbids it."""
    abc_mm, case = task.family.snapped(abc_mm), task.case
    for row, low, high in task.rows:
        if not low - ROW_SLACK_MM <= float(row @ abc_mm) <= high + ROW_SLACK_MM:
            return None
    # Within half a storage step of a skin nobody knows yet on which side of it the stored plane lies.
    work = work_of_plane(case=case, abc_mm=abc_mm, skin_mm=SKIN_MM - FLAT_MM)
    return None if breaks_limits(case=case, work=work) else Spot(abc_mm=abc_mm, work=work)


def improve(*, task: Task, starts: tuple[Floats, ...], budget: Budget) -> Spot | None:
    """The cheapest plane found from the better starts, or None if none of them is allowed."""
    spots = [spot_at(task=task, abc_mm=start) for start in starts]
    allowed = sorted((spot for spot in spots if spot is not None), key=lambda spot: spot.work.cost)
    found = [_descend(task=task, at=spot, price=_whole, budget=budget) for spot in allowed[:TRIED_STARTS]]
    return min(found, key=lambda spot: spot.work.cost, default=None)


def improved_from(*, task: Task, spot: Spot, budget: Budget) -> Spot:
    """Once more without whole bags, days and set-ups, whose steps hold the search, then with them."""
    far = _descend(task=task, at=spot, price=_whole, budget=budget, step=LONG_STEP_MM)
    rough = _descend(task=task, at=spot, price=_running, budget=budget)
    near = _descend(task=task, at=rough, price=_whole, budget=budget)
    return min((far, near), key=lambda one: one.work.cost)


def _whole(work: Work) -> float:
    return work.cost


def _running(work: Work) -> float:
    return work.running_cost


def _descend(
    *, task: Task, at: Spot, price: Callable[[Work], float], budget: Budget, step: float = FIRST_STEP_MM
) -> Spot:
    """Take every move that helps and repeat it; halve the step when none does."""
    moves = np.concatenate([_MOVES, -_MOVES])
    if task.family.level:
        moves = np.array([_UP, -_UP])
    while step >= LAST_STEP_MM and budget.left_s() > 0.0:
        helped = False
        for move in moves:
            better = _moved(task=task, at=at, move=step * move, price=price)
            while better is not None:
                at, helped = better, True
                better = _moved(task=task, at=at, move=step * move, price=price)
        step = step if helped else step / 2
    return at


def _moved(*, task: Task, at: Spot, move: Floats, price: Callable[[Work], float]) -> Spot | None:
    """The moved plane, if it is allowed and cheaper."""
    spot = spot_at(task=task, abc_mm=at.abc_mm + move)
    return spot if spot is not None and price(spot.work) < price(at.work) - 1e-6 else None
