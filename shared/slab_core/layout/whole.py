"""A whole floor laid: once through, then its last rows again and again, for they decide what is left."""

import numpy as np

from slab_core.layout.boards import Laid, lay_next
from slab_core.layout.bound import least_boards_m2
from slab_core.layout.pile import Pile
from slab_core.layout.rows import Stretch
from slab_core.materials.model import Covering
from slab_core.numerics.budget import Budget

_TRIES = 200
_TRIES_LATE = 20
_TAILS = (6, 12, 24)
_ROUNDS = 16
_BACK, _SECOND_THOUGHTS = 3, 9
_GOOD_ENOUGH = 1.001
"""Within a thousandth of the bound the search ends."""

_STALE = 4
"""So many rounds without a gain end it too, unless joints are too close: each of the tails, and one again."""

TOO_CLOSE_M = 1.0
"""A joint too close to another counts as a metre of board."""


def lay_floor(
    *, stretches: tuple[Stretch, ...], covering: Covering, rng: np.random.Generator, budget: Budget
) -> Laid:
    """The least wasteful of many ways to end the floor.

    Raises
    ------
    RowNotLaid
        when a stretch cannot be spanned even with pieces below the least length.
    """
    kinds = np.array(sorted(set(covering.lengths_m)))
    least_m = least_boards_m2(stretches=stretches, covering=covering) / covering.width_m
    starts = sorted({max(0, len(stretches) - tail) for tail in _TAILS} | {0})
    before = {0: Laid(pile=Pile(kinds=kinds, rng=rng))}
    best = _finish(before, starts=starts, stretches=stretches, covering=covering, budget=budget)
    tails = starts[:0:-1] or starts
    better = 0
    for turn in range(_ROUNDS):
        good = cost_m(best) <= least_m * _GOOD_ENOUGH
        stale = turn - better >= _STALE and not best.too_close
        if good or stale or budget.left_s() <= 0.0:
            break
        start = tails[turn % len(tails)]
        again = {start: before[start]}
        later = [at for at in starts if at >= start]
        laid = _finish(again, starts=later, stretches=stretches, covering=covering, budget=budget)
        if cost_m(laid) < cost_m(best) - 1e-9:
            best, better = laid, turn
            before.update(again)
    return best


def cost_m(laid: Laid) -> float:
    """Metres of board taken, and the rules broken as metres."""
    return laid.pile.taken_m + TOO_CLOSE_M * laid.too_close


def _finish(
    before: dict[int, Laid],
    *,
    starts: list[int],
    stretches: tuple[Stretch, ...],
    covering: Covering,
    budget: Budget,
) -> Laid:
    """Lay from the first of `starts` to the end; `before` gets what was laid before each of them.

    Where joints come too close, the rows just before are laid again, a few times.
    """
    laid = before[starts[0]].copy()
    recent = [laid.copy()]
    for at in range(starts[0], len(stretches)):
        if at in starts:
            before.setdefault(at, laid.copy())
        tries = _TRIES if budget.left_s() > 0.0 else _TRIES_LATE
        lay_next(laid=laid, left=stretches[at:], covering=covering, tries=tries)
        if laid.too_close > recent[-1].too_close and tries == _TRIES:
            laid = _again(laid, recent=recent, left=stretches[at + 1 - len(recent) :], covering=covering)
        recent = [*recent[1 - _BACK :], laid.copy()]
    return laid


def _again(laid: Laid, *, recent: list[Laid], left: tuple[Stretch, ...], covering: Covering) -> Laid:
    """The best of a few ways to lay the last stretches over again, from what was laid before each."""
    for turn in range(_SECOND_THOUGHTS):
        back = 1 + turn % len(recent)
        other = recent[-back].copy()
        for k in range(len(recent) - back, len(recent)):
            lay_next(laid=other, left=left[k:], covering=covering, tries=_TRIES)
        if other.too_close < laid.too_close:
            laid = other
        if laid.too_close <= recent[-1].too_close:
            break
    return laid
