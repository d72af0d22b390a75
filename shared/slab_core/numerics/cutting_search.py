"""Whole sticks between a relaxation's bound and the best that was found: from above by diving and by covering
with listed patterns, from below by listing every pattern that anything better could use."""

from dataclasses import dataclass, replace
from math import ceil, gcd
from typing import NamedTuple

import numpy as np

from slab_core.numerics.budget import Budget
from slab_core.numerics.column_generation import Generation, Relaxation, Stock, by_length
from slab_core.numerics.covering import cover_whole
from slab_core.numerics.grid import Floats
from slab_core.numerics.patterns import Counts

Filled = tuple[int, Counts]
"""A stick: which stock, and how many of each size come from it."""

_QUICK_NODES = 50
_DIVES = 30
_MOST_CELLS = 8_000_000
"""Of the table of patterns, sizes x length: 64 MB. Beyond it there is first fit and the bound by length."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Rest:
    """What is left to cut, what was taken and spent for the others, and the relaxation for what is left."""

    left: Counts
    taken: list[Filled]
    spent: int
    relaxed: Relaxation


class _Limits(NamedTuple):
    """How far a search over all patterns goes: steps of listing, patterns listed, nodes of the search."""

    steps: int
    patterns: int
    nodes: int


_ROOT = _Limits(steps=100_000, patterns=4_000, nodes=300)
_LEAF = _Limits(steps=30_000, patterns=400, nodes=100)


class Search:
    """The cheapest sticks found so far, their cost, and a bound; sizes are in order, longest first."""

    def __init__(self, *, stocks: tuple[Stock, ...], sizes: Counts, demands: Counts, budget: Budget) -> None:
        self._stocks, self._sizes, self._demands, self._budget = stocks, sizes, demands, budget
        self._step = gcd(*(stock.price for stock in stocks))
        self.sticks: list[Filled] = fill_one_by_one(stocks=stocks, sizes=sizes, demands=demands)
        self.cost = self._cost_of(self.sticks)
        self.bound = self._whole(by_length(stocks=stocks, sizes=sizes, demands=demands))

    def improve(self) -> None:
        """Relax, then close the gap from above and from below, as far as the limits and the time reach."""
        if self._done() or len(self._sizes) * max(stock.length for stock in self._stocks) > _MOST_CELLS:
            return
        made = Generation(stocks=self._stocks, sizes=self._sizes, demands=self._demands, budget=self._budget)
        for stock, counts in self.sticks:
            made.add(stock=stock, counts=counts)
        made.add_full(demands=self._demands)
        relaxed = made.relax(demands=self._demands)
        self.bound = max(self.bound, self._whole(relaxed.bound))
        everything = _Rest(left=self._demands, taken=[], spent=0, relaxed=relaxed)
        if not self._done():
            self._cover(
                everything,
                made.stock_of,
                made.counts,
                nodes=_QUICK_NODES,
                spare=np.full(len(self._sizes), np.inf),
            )
        for other in range(_DIVES):
            if not self._done():
                self._dive(made, everything, other=other)
        if not self._done() and self._over_all(made, everything, _ROOT):
            self.bound = self.cost

    def _done(self) -> bool:
        return self.cost <= self.bound or self._budget.left_s() <= 0

    def _whole(self, cost: float) -> int:
        """The least that sticks can cost together and not be under this."""
        return ceil(cost / self._step - 1e-7) * self._step

    def _dive(self, made: Generation, rest: _Rest, *, other: int) -> None:
        """Take the whole parts of the relaxation, or else its largest (the first time the largest but
        `other`), and relax again for what is left, until that is little enough to be searched through."""
        few = 0.7 * rest.left.sum()
        while True:
            often = np.floor(rest.relaxed.x + 1e-6)
            if other or not often.any():
                often[:] = 0.0
                often[np.argsort(-rest.relaxed.x, kind="stable")[min(other, len(often) - 1)]] = 1.0
                other = 0
            rest = self._take(made, rest, often)
            if not rest.left.any():
                return self._keep(rest.taken)
            relaxed = made.relax(demands=rest.left, good_enough=float(self.cost - rest.spent))
            if rest.spent + self._whole(relaxed.bound) >= self.cost or self._done():
                return None
            rest = replace(rest, relaxed=relaxed)
            if rest.left.sum() <= few:
                few = 0.7 * rest.left.sum()
                if self._over_all(made, rest, _LEAF):
                    return None

    def _take(self, made: Generation, rest: _Rest, often: Floats) -> _Rest:
        left, taken, spent = rest.left, list(rest.taken), rest.spent
        for j in np.flatnonzero(often):
            stock = made.stock_of[j]
            for _ in range(int(often[j])):
                counts = np.minimum(made.counts[j], left)
                if counts.any():
                    taken.append((stock, counts))
                    left, spent = left - counts, spent + self._stocks[stock].price
        return replace(rest, left=left, taken=taken, spent=spent)

    def _over_all(self, made: Generation, rest: _Rest, limits: _Limits) -> bool:
        """The best over every pattern that a cheaper cutting could use; whether that was seen through."""
        relaxed = rest.relaxed
        gap = self.cost - self._step - rest.spent - relaxed.bound
        made.table.fill(worths=relaxed.worths, copies=rest.left)
        stock_of, patterns = list[int](), list[Counts]()
        for i, stock in enumerate(self._stocks):
            enough = stock.price - gap - 1e-6 * stock.price
            listed = made.table.worth_at_least(
                length=stock.length, worth=enough, steps=limits.steps, most=limits.patterns - len(patterns)
            )
            if not listed.through:
                return False
            stock_of += [i] * len(listed.counts)
            patterns += list(listed.counts)
        # What is cut too much costs its worth, and all of it together no more than the gap.
        spare = np.floor((gap + 1e-6) / np.maximum(relaxed.worths, 1e-12))
        return not patterns or self._cover(rest, stock_of, patterns, nodes=limits.nodes, spare=spare)

    def _cover(
        self,
        rest: _Rest,
        stock_of: list[int],
        patterns: list[Counts],
        *,
        nodes: int,
        spare: Floats,
    ) -> bool:
        """Keep the best cutting of these patterns that is cheaper; whether there is none better of them."""
        prices = np.array([self._stocks[stock].price for stock in stock_of], dtype=np.float64)
        whole = cover_whole(
            prices=prices,
            columns=np.array(patterns, dtype=np.float64).T,
            demands=rest.left.astype(np.float64),
            greatest=rest.left + spare,
            at_most=float(self.cost - self._step - rest.spent),
            nodes=nodes,
            left_s=self._budget.left_s(),
        )
        if whole.x is not None:
            times = [(j, int(whole.x[j])) for j in np.flatnonzero(whole.x)]
            self._keep([*rest.taken, *((stock_of[j], patterns[j]) for j, n in times for _ in range(n))])
        return whole.ended

    def _keep(self, sticks: list[Filled]) -> None:
        if (cost := self._cost_of(sticks)) < self.cost:
            self.sticks, self.cost = sticks, cost

    def _cost_of(self, sticks: list[Filled]) -> int:
        return sum(self._stocks[stock].price for stock, _ in sticks)


def fill_one_by_one(*, stocks: tuple[Stock, ...], sizes: Counts, demands: Counts) -> list[Filled]:
    """Stick after stick, each filled from the longest piece left down; the stock that is used best for its
    price."""
    left, sticks = demands.copy(), list[Filled]()
    while left.any():
        filled = [(_fill(stock.length, sizes, left), i) for i, stock in enumerate(stocks)]
        counts, i = max(filled, key=lambda pair: float(pair[0] @ sizes) / stocks[pair[1]].price)
        sticks.append((i, counts))
        left = left - counts
    return sticks


def _fill(length: int, sizes: Counts, left: Counts) -> Counts:
    counts = np.zeros(len(sizes), dtype=np.int64)
    for k, size in enumerate(sizes):
        counts[k] = min(int(left[k]), length // int(size))
        length -= int(counts[k] * size)
    return counts
