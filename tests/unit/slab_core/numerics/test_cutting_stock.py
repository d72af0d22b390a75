"""Cutting from stock lengths against instances whose optimum is known."""

from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.numerics.budget import Budget
from slab_core.numerics.column_generation import Stock
from slab_core.numerics.cutting_stock import Cutting, PieceTooLong, cut_stock
from tests.cut_stock import CLASSIC, CLASSIC_OPTIMUM, CLASSIC_STOCK, perfectly_cut


def _fits(cutting: Cutting, *, stocks: tuple[Stock, ...], pieces: tuple[int, ...], kerf: int) -> bool:
    """Whether the sticks hold exactly these pieces with a kerf between neighbours, at the stated price."""
    cut = sorted(piece for stick in cutting.sticks for piece in stick.pieces)
    lengths = [sum(s.pieces) + kerf * (len(s.pieces) - 1) <= stocks[s.stock].length for s in cutting.sticks]
    cost = sum(stocks[stick.stock].price for stick in cutting.sticks)
    return cut == sorted(pieces) and all(lengths) and cost == cutting.cost


def _least_by_trying_all(*, stocks: tuple[Stock, ...], pieces: tuple[int, ...], kerf: int) -> int:
    """The least cost over every way to share the pieces out."""

    def price(group: int) -> float:
        chosen = [piece for i, piece in enumerate(pieces) if group >> i & 1]
        length = sum(chosen) + kerf * (len(chosen) - 1)
        return min((s.price for s in stocks if s.length >= length), default=float("inf"))

    @cache
    def least(left: int) -> float:
        if not left:
            return 0.0
        first, rest = left & -left, left & (left - 1)
        best, group = float("inf"), rest
        while True:
            best = min(best, price(group | first) + least(rest & ~group))
            if not group:
                return best
            group = (group - 1) & rest

    return int(least((1 << len(pieces)) - 1))


def test_the_paper_rolls_of_the_textbooks_need_73() -> None:
    """A classic of the literature (data from memory): 219 rolls out of 5600, whose material fills 72.7."""
    stocks = (Stock(length=CLASSIC_STOCK, price=1),)
    cutting = cut_stock(stocks=stocks, pieces=CLASSIC)
    assert sum(CLASSIC) == 407_160
    assert (cutting.cost, cutting.bound, cutting.proven) == (CLASSIC_OPTIMUM, CLASSIC_OPTIMUM, True)
    assert _fits(cutting, stocks=stocks, pieces=CLASSIC, kerf=0)


@settings(max_examples=150, deadline=None)
@given(
    stocks=st.lists(st.tuples(st.integers(12, 40), st.integers(1, 30)), min_size=1, max_size=3),
    pieces=st.lists(st.integers(1, 12), max_size=8),
    kerf=st.integers(0, 2),
)
def test_what_is_called_proven_is_the_least_of_all_ways_to_cut(
    stocks: list[tuple[int, int]], pieces: list[int], kerf: int
) -> None:
    bought, wanted = tuple(Stock(length=n, price=p) for n, p in stocks), tuple(pieces)
    cutting = cut_stock(stocks=bought, pieces=wanted, kerf=kerf)
    least = _least_by_trying_all(stocks=bought, pieces=wanted, kerf=kerf)
    assert _fits(cutting, stocks=bought, pieces=wanted, kerf=kerf)
    assert cutting.bound <= least <= cutting.cost
    assert cutting.proven
    assert cutting.cost == least


@pytest.mark.parametrize("seed", range(3))
def test_sticks_that_were_cut_without_waste_are_found_again(seed: int) -> None:
    pieces, sticks = perfectly_cut(np.random.default_rng([41, seed]), types=25, stock=48_768, kerf=30)
    stocks = (Stock(length=48_768, price=7),)
    cutting = cut_stock(stocks=stocks, pieces=pieces, kerf=30)
    assert (cutting.cost, cutting.bound) == (7 * sticks, 7 * sticks)
    assert _fits(cutting, stocks=stocks, pieces=pieces, kerf=30)


def test_more_sticks_than_the_relaxation_rounds_to_are_proven_too() -> None:
    """An instance of the literature (from memory): 259 of 264 units, the relaxation says 2, and 3 it is."""
    stocks = (Stock(length=132, price=1),)
    pieces = (44,) * 2 + (33,) * 3 + (12,) * 6
    cutting = cut_stock(stocks=stocks, pieces=pieces)
    assert cutting.cost == 3
    assert cutting.proven
    assert sum(pieces) <= 2 * 132


def test_without_time_the_answer_is_a_cutting_and_a_bound_and_does_not_claim_more() -> None:
    pieces, sticks = perfectly_cut(np.random.default_rng([41, 9]), types=40, stock=48_768, kerf=30)
    stocks = (Stock(length=48_768, price=1),)
    over = Budget(deadline_s=1.0, clock=lambda: 2.0)
    cutting = cut_stock(stocks=stocks, pieces=pieces, kerf=30, budget=over)
    assert _fits(cutting, stocks=stocks, pieces=pieces, kerf=30)
    assert cutting.bound <= sticks <= cutting.cost
    assert cutting.proven == (cutting.cost <= cutting.bound)


def test_a_shorter_stock_is_taken_where_it_is_cheaper() -> None:
    stocks = (Stock(length=100, price=10), Stock(length=60, price=6))
    assert [s.stock for s in cut_stock(stocks=stocks, pieces=(55,)).sticks] == [1]
    assert [s.stock for s in cut_stock(stocks=stocks, pieces=(55, 45)).sticks] == [0]


def test_nothing_to_cut_needs_nothing_and_a_piece_longer_than_every_stock_is_refused() -> None:
    stocks = (Stock(length=100, price=1),)
    assert cut_stock(stocks=stocks, pieces=()) == Cutting(sticks=(), cost=0, bound=0)
    assert len(cut_stock(stocks=stocks, pieces=(100,), kerf=3).sticks) == 1
    with pytest.raises(PieceTooLong, match="piece of 101"):
        cut_stock(stocks=stocks, pieces=(101,))
