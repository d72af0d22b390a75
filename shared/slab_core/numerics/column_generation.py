"""The relaxation of a cutting problem, over all patterns without listing them.

P. C. Gilmore and R. E. Gomory, "A linear programming approach to the cutting-stock problem", Operations
Research 9 (1961): only patterns that are worth more than their stick costs, at the prices of the last
solution, can make it cheaper, and the best of them is a knapsack. The bound at every step is J. M. Farley's
(Operations Research 38, 1990): prices divided by the most that a stick's worth exceeds its cost allow no
pattern to be worth more than it costs.
"""

from dataclasses import dataclass

import numpy as np

from slab_core.numerics.budget import Budget
from slab_core.numerics.covering import Covering
from slab_core.numerics.grid import Floats
from slab_core.numerics.patterns import Counts, Patterns

_ENOUGH = 1e-9
_MOST_ROUNDS = 2000

_CALM = 0.75
"""Patterns are sought between the best worths so far and the last solution's, which swing widely (P. Wentges,
International Transactions in Operational Research 4, 1997: the idea; the share is our own measurement)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """A length that can be bought, and its price; both whole."""

    length: int
    price: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Relaxation:
    """How often each pattern is cut, in parts of sticks; `bound`: no cutting costs less. `worths` of the
    pieces, at which no pattern is worth more than its stick, add up to the bound."""

    x: Floats
    bound: float
    worths: Floats


class Generation:
    """Patterns found so far for these stocks and sizes, longest first, and the programme over them."""

    def __init__(self, *, stocks: tuple[Stock, ...], sizes: Counts, demands: Counts, budget: Budget) -> None:
        self.stocks, self.sizes, self._budget = stocks, sizes, budget
        self.counts: list[Counts] = []
        self.stock_of: list[int] = []
        self.table = Patterns(sizes=sizes, greatest=max(stock.length for stock in stocks))
        self._programme = Covering(demands=demands.astype(np.float64))
        self._known: set[tuple[int, bytes]] = set()

    def add(self, *, stock: int, counts: Counts) -> bool:
        """One more pattern; False if it is known."""
        key = (stock, counts.tobytes())
        if key in self._known:
            return False
        self._known.add(key)
        self.counts.append(counts)
        self.stock_of.append(stock)
        self._programme.add_column(price=self.stocks[stock].price, column=counts.astype(np.float64))
        return True

    def prices(self) -> Floats:
        """What each pattern's stick costs."""
        return np.array([self.stocks[stock].price for stock in self.stock_of], dtype=np.float64)

    def relax(self, *, demands: Counts, good_enough: float = np.inf) -> Relaxation:
        """Cheapest cutting in parts of sticks, or as far as the time reaches; ends early once the bound is
        over `good_enough`. Every size must be in some pattern already."""
        self._programme.demand(demands.astype(np.float64))
        # By their length alone the pieces are worth so much: a bound of its own, and where to start from.
        worths = np.asarray(self.sizes * _cheapest(self.stocks), dtype=np.float64)
        bound = by_length(stocks=self.stocks, sizes=self.sizes, demands=demands)
        for _ in range(_MOST_ROUNDS):
            relaxed = self._programme.relax()
            for duals in (_CALM * worths + (1.0 - _CALM) * relaxed.duals, relaxed.duals):
                excess = self._price(duals, demands)
                reached = float(duals @ demands) / excess
                if reached > bound:
                    bound, worths = reached, np.asarray(duals / excess, dtype=np.float64)
                if self._add(over=1.0 + _ENOUGH, at=relaxed.duals):
                    break
            else:
                break
            if bound > good_enough or self._budget.left_s() <= 0:
                break
        return Relaxation(x=relaxed.x, bound=bound, worths=worths)

    def _price(self, duals: Floats, demands: Counts) -> float:
        """The greatest ratio of a pattern's worth to the price of its stick, at least 1."""
        self.table.fill(worths=duals, copies=demands)
        return max(1.0, *(self.table.worth(length=s.length) / s.price for s in self.stocks))

    def add_full(self, *, demands: Counts) -> None:
        """The fullest pattern of every stock and tail of the sizes, to begin with."""
        self.table.fill(worths=self.sizes.astype(np.float64), copies=demands)
        self._add(over=0.0, at=self.sizes.astype(np.float64))

    def _add(self, *, over: float, at: Floats) -> bool:
        """The best pattern of every stock and tail of the sizes that is worth more than `over` of its price;
        whether a new one is, too, when the pieces are worth `at`."""
        useful = False
        for i, stock in enumerate(self.stocks):
            before = -1.0
            for first in range(len(self.sizes)):
                worth = self.table.worth(length=stock.length, first=first)
                if worth <= stock.price * over:
                    break
                if worth != before:
                    counts = self.table.best(length=stock.length, first=first)
                    new = self.add(stock=i, counts=counts)
                    useful |= new and float(counts @ at) > stock.price * over
                before = worth
        return useful


def by_length(*, stocks: tuple[Stock, ...], sizes: Counts, demands: Counts) -> float:
    """What all pieces cost at least if nothing at all were left over."""
    return float(sizes @ demands) * _cheapest(stocks)


def _cheapest(stocks: tuple[Stock, ...]) -> float:
    return min(stock.price / max(1, stock.length) for stock in stocks)
