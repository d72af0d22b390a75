"""A whole floor laid: once through, then its last rows again and again, for they decide what is left."""

from dataclasses import dataclass

import numpy as np

from slab_core.layout.boards import Laid, lay_next
from slab_core.layout.bound import LeastBoards, least_boards
from slab_core.layout.pile import Pile
from slab_core.layout.rows import Stretch
from slab_core.layout.sequence import KNOT
from slab_core.materials.model import Covering
from slab_core.numerics.budget import Budget

_TRIES = 110
_TRIES_LATE = 20
_TAILS = (6, 12, 24)
_BACK, _SECOND_THOUGHTS = 3, 9
_GOOD_ENOUGH = 1.0015
"""Costs so near to the bound of the boards alone end the search."""

_STALE, _LAYS = 4, 150
"""In every direction: so many turns without a gain (each of the tails, and one again), so many stretches."""

STALE_CHOSEN, LAYS_CHOSEN = 24, 300
"""In the direction that is laid, on top of that."""

_MORE_BOARDS, _MENDS = 3, 12

TOO_CLOSE_M = 1.0
"""A joint too close to another counts as a metre of board."""


@dataclass(slots=True, kw_only=True)
class Search:
    """A floor as well as it has been laid so far, the least of boards that any way takes, what was laid
    before each of its tails, and how many stretches have been laid in all, those laid over counted each
    time."""

    stretches: tuple[Stretch, ...]
    covering: Covering
    budget: Budget
    least: LeastBoards
    best: Laid
    before: dict[int, Laid]
    turn: int = 0
    lays: int = 0
    more: int = 0

    def keep_apart(self) -> None:
        """Where joints are too close at the end, lay tails over again with more boards to choose from."""
        self.more = _MORE_BOARDS
        for _ in range(_MENDS):
            if not self.best.too_close or self.budget.left_s() <= 0.0:
                break
            self._tail_again()
        self.more = 0

    def go_on(self, *, stale: int, lays: int) -> None:
        """Lay tails over again, each in its turn: until so many turns in a row gained nothing, while fewer
        than so many stretches have been laid for it, and while there may be something to gain."""
        least_m = self.least.all_m2() / self.covering.width_m
        better, most = self.turn, self.lays + lays
        while self.lays < most and self.budget.left_s() > 0.0:
            good = cost_m(self.best) <= least_m * _GOOD_ENOUGH
            if good or (self.turn - better >= stale and not self.best.too_close):
                return
            if self._tail_again():
                better = self.turn - 1

    def _tail_again(self) -> bool:
        """Lay the next tail in its turn over again; whether that is better."""
        tails = sorted(self.before, reverse=True)[:-1] or [0]
        start = tails[self.turn % len(tails)]
        self.turn += 1
        again = {at: laid for at, laid in self.before.items() if at <= start}
        laid = self.finish(again, start=start)
        if cost_m(laid) >= cost_m(self.best) - 1e-9:
            return False
        self.best, self.before = laid, again
        return True

    def finish(self, before: dict[int, Laid], *, start: int) -> Laid:
        """Lay from a tail's start to the end; `before` gets what was laid before each later tail.

        Where joints come too close, the rows just before are laid again, a few times.
        """
        laid = before[start].copy()
        recent = [laid.copy()]
        for at in range(start, len(self.stretches)):
            if at in self.before:
                before[at] = laid.copy()
            tries = _TRIES if self.budget.left_s() > 0.0 else _TRIES_LATE
            self._lay(laid, at=at, tries=tries)
            if laid.too_close > recent[-1].too_close and tries == _TRIES:
                laid = self._again(laid, recent=recent, to=at + 1)
            recent = [*recent[1 - _BACK :], laid.copy()]
        return laid

    def _again(self, laid: Laid, *, recent: list[Laid], to: int) -> Laid:
        """The best of a few ways to lay the last stretches over again, from what was laid before each."""
        for turn in range(_SECOND_THOUGHTS):
            back = 1 + turn % len(recent)
            other = recent[-back].copy()
            for at in range(to - back, to):
                self._lay(other, at=at, tries=_TRIES)
            if other.too_close < laid.too_close:
                laid = other
            if laid.too_close <= recent[-1].too_close:
                break
        return laid

    def _lay(self, laid: Laid, *, at: int, tries: int) -> None:
        lay_next(laid=laid, left=self.stretches[at:], covering=self.covering, tries=tries, more=self.more)
        self.lays += 1


def lay_floor(
    *, stretches: tuple[Stretch, ...], covering: Covering, rng: np.random.Generator, budget: Budget
) -> Search:
    """A floor laid once through and its tails a few times over, and what to go on from.

    Raises
    ------
    RowNotLaid
        when a stretch cannot be spanned even with pieces below the least length.
    """
    first = Laid(pile=Pile(kinds=np.array(sorted(set(covering.lengths_m))), rng=rng))
    starts = {0, *(max(0, len(stretches) - tail) for tail in _TAILS)}
    before = dict.fromkeys(sorted(starts), first)
    search = Search(
        stretches=stretches,
        covering=covering,
        budget=budget,
        least=least_boards(stretches=stretches, covering=covering),
        best=first,
        before=before,
    )
    search.best = search.finish(before, start=0)
    search.go_on(stale=_STALE, lays=_LAYS)
    return search


def cost_m(laid: Laid) -> float:
    """Metres of board taken, and the rules broken and short pieces that touch as metres."""
    return laid.pile.taken_m + TOO_CLOSE_M * laid.too_close + KNOT * laid.short_pairs
