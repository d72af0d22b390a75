"""Runs of trim joined from pieces, and the pieces cut from stock lengths with the least bought."""

from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, floor

from slab_core.materials.model import Item
from slab_core.materials.rates_model import TrimRules
from slab_core.numerics.budget import Budget
from slab_core.numerics.column_generation import Stock
from slab_core.numerics.cutting_stock import cut_stock
from slab_core.takeoff.model import CutList, TrimEnd, TrimPiece, TrimStick

_STEPS_PER_M = 10_000
"""Sticks are cut to whole tenths of a millimetre: pieces rounded up, stock and what is left rounded down."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A stretch of trim from end to end, mitres included. `from_right`: who faces the wall has its start to
    the right."""

    where: str
    length_m: float
    start: TrimEnd = "square"
    end: TrimEnd = "square"
    from_right: bool = False


def joined_lengths(
    *, length_m: float, stock_m: float, overlap_m: float, rules: TrimRules
) -> tuple[float, ...]:
    """Pieces of one run in order along it: one where a stick is long enough, else as few as there can be.

    All but one are whole sticks. No other split into as few pieces needs fewer sticks: what a piece gives
    up so that another grows to a whole stick leaves at least as much free on its own stick. Only where the
    one piece would be under the rules does a neighbour give way to it. Of three or more pieces the short
    one is second, so that no joint is near an end.
    """
    if length_m <= stock_m + 0.5 / _STEPS_PER_M:
        return (length_m,)
    step_m = stock_m - min(overlap_m, stock_m / 2)
    count = ceil((length_m - stock_m) / step_m - 1e-9) + 1
    rest = length_m - (count - 1) * step_m
    least = max(rules.least_piece_m, rules.joint_from_corner_m if count == 2 else 0.0)
    lacking = max(0.0, min(least, (stock_m + rest) / 2) - rest)
    return (stock_m - lacking, rest + lacking, *(stock_m for _ in range(count - 2)))


def cut_list(
    *,
    item: str,
    stocks: tuple[Item, ...],
    runs: tuple[Run, ...],
    overlap_m: float,
    rules: TrimRules,
    budget: Budget,
) -> CutList:
    """Sticks of these products for all runs, the least length bought; proven for the pieces that the rules
    of joining make of the runs, from sticks of the greatest length."""
    longest_m = max(stock.package.size for stock in stocks)
    pieces = tuple(
        piece
        for run in runs
        for piece in _pieces(
            run, joined_lengths(length_m=run.length_m, stock_m=longest_m, overlap_m=overlap_m, rules=rules)
        )
    )
    bought = tuple(_stock(stock.package.size) for stock in stocks)
    most = max(stock.length for stock in bought)
    steps = [min(most, ceil(piece.length_m * _STEPS_PER_M - 0.01)) for piece in pieces]
    cutting = cut_stock(
        stocks=bought, pieces=tuple(steps), kerf=round(rules.kerf_m * _STEPS_PER_M), budget=budget
    )
    waiting = defaultdict[int, list[TrimPiece]](list)
    for piece, length in zip(pieces, steps, strict=True):
        waiting[length].append(piece)
    sticks = []
    for stick in cutting.sticks:
        cut = tuple(waiting[length].pop(0) for length in stick.pieces)
        used_m = sum(piece.length_m for piece in cut) + rules.kerf_m * len(cut)
        product = stocks[stick.stock]
        left_m = max(0.0, product.package.size - used_m)
        sticks.append(TrimStick(product=product.id, pieces=cut, left_m=left_m))
    bought_m = cutting.cost / _STEPS_PER_M
    return CutList(
        item=item,
        sticks=tuple(sticks),
        bought_m=bought_m,
        bound_m=cutting.bound / _STEPS_PER_M,
        proven=cutting.proven,
        waste_share=max(0.0, 1.0 - sum(p.length_m for p in pieces) / bought_m) if bought_m else 0.0,
    )


def _pieces(run: Run, parts: tuple[float, ...]) -> Iterator[TrimPiece]:
    last = len(parts)
    for i, part in enumerate(parts, start=1):
        ends: tuple[TrimEnd, TrimEnd] = (run.start if i == 1 else "joint", run.end if i == last else "joint")
        left, right = reversed(ends) if run.from_right else ends
        where = run.where if last == 1 else f"{run.where}, {i} of {last}"
        yield TrimPiece(where=where, length_m=part, left=left, right=right)


def sticks_of(cuts: CutList) -> dict[str, int]:
    """How many sticks of each product, without spares."""
    return dict(Counter(stick.product for stick in cuts.sticks))


def _stock(length_m: float) -> Stock:
    length = floor(length_m * _STEPS_PER_M + 0.01)
    return Stock(length=length, price=length)
