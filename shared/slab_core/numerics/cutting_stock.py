"""Pieces cut from stock lengths at the least price, with a proven bound."""

from collections import Counter
from dataclasses import dataclass
from math import gcd

import numpy as np

from slab_core.errors import SlabError
from slab_core.numerics.budget import Budget
from slab_core.numerics.column_generation import Stock
from slab_core.numerics.cutting_search import Filled, Search
from slab_core.numerics.patterns import Counts


class PieceTooLong(SlabError):
    """A piece does not fit any stock length."""

    code = "piece-too-long"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stick:
    """One stick: which stock it is, and the lengths cut from it in order, longest first."""

    stock: int
    pieces: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutting:
    """Sticks that hold every piece. No cutting of these pieces costs less than `bound`; `proven`: this one
    costs no more."""

    sticks: tuple[Stick, ...]
    cost: int
    bound: int

    @property
    def proven(self) -> bool:
        """Whether nothing cheaper can be cut."""
        return self.cost <= self.bound


def cut_stock(
    *, stocks: tuple[Stock, ...], pieces: tuple[int, ...], kerf: int = 0, budget: Budget | None = None
) -> Cutting:
    """The cheapest sticks for all pieces; every two neighbours on a stick are a kerf apart.

    Lengths, kerf and prices are whole and positive (the kerf may be 0). Exact: a relaxation over all
    patterns gives the bound; if no whole cutting found on the way reaches it, every pattern that a better
    one could use is listed (its reduced cost is under the gap) and the best over them is searched. Where the
    table, the list or the search grows too large, or the time ends, the result is what was found, with its
    bound, and not called proven.

    Raises
    ------
    PieceTooLong
        a piece is longer than every stock.
    """
    longest = max(stock.length for stock in stocks)
    if pieces and max(pieces) > longest:
        raise PieceTooLong(f"a piece of {max(pieces)} does not fit the longest stock of {longest}")
    if not pieces:
        return Cutting(sticks=(), cost=0, bound=0)
    wanted = Counter(pieces)
    lengths = sorted(wanted, reverse=True)
    demands = np.array([wanted[length] for length in lengths], dtype=np.int64)
    # With a kerf more on pieces and stock alike, the last piece of a stick needs no cut behind it.
    unit = gcd(*(length + kerf for length in lengths))
    search = Search(
        stocks=tuple(Stock(length=(s.length + kerf) // unit, price=s.price) for s in stocks),
        sizes=np.array([(length + kerf) // unit for length in lengths], dtype=np.int64),
        demands=demands,
        budget=budget or Budget(),
    )
    search.improve()
    sticks = _once(search.sticks, lengths=lengths, demands=demands)
    return Cutting(sticks=tuple(sticks), cost=search.cost, bound=search.bound)


def _once(filled: list[Filled], *, lengths: list[int], demands: Counts) -> list[Stick]:
    """The sticks in order, with nothing cut more often than it is asked for."""
    left, sticks = demands.copy(), []
    for stock, counts in filled:
        cut = np.minimum(counts, left)
        left -= cut
        pieces = tuple(length for length, n in zip(lengths, cut, strict=True) for _ in range(n))
        sticks.append(Stick(stock=stock, pieces=pieces))
    return sorted(sticks, key=lambda stick: (stick.stock, [-piece for piece in stick.pieces]))
