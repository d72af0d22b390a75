"""Ways to fill a length with pieces, each worth something: the best of them, and all that are good enough."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from slab_core.numerics.grid import Floats
from slab_core.numerics.kernel import kernel

Counts = NDArray[np.int64]
"""How many of each piece."""

_SLACK = 1e-9


class Listed(NamedTuple):
    """Patterns, shape (patterns, pieces), and whether these are all of them."""

    counts: Counts
    through: bool


class Patterns:
    """Bounded knapsack over whole sizes, exact by dynamic programming, filled again for other worths.

    One row of the table holds the most that pieces k, k + 1, … are worth together in each length up to the
    greatest, so that one filling answers for every length and for every tail of the pieces. A piece that is
    worth nothing or not wanted has no row of its own; `_row_of` says which row stands for which tail.
    """

    def __init__(self, *, sizes: Counts, greatest: int) -> None:
        self._sizes = sizes
        self._best = np.zeros((len(sizes) + 1, greatest + 1))
        self._row_of = np.zeros(len(sizes) + 1, dtype=np.int64)

    def fill(self, *, worths: Floats, copies: Counts) -> None:
        """Worths are not negative; at most so many copies of each piece are used."""
        self._worths, self._copies = worths, copies
        _fill(self._best, self._row_of, self._sizes, worths, copies)

    def worth(self, *, length: int, first: int = 0) -> float:
        """The most that pieces from `first` on are worth in a length."""
        return float(self._best[self._row_of[first], length])

    def best(self, *, length: int, first: int = 0) -> Counts:
        """Counts of a pattern that is worth that."""
        counts = np.zeros(len(self._sizes), dtype=np.int64)
        for k in range(first, len(self._sizes)):
            size, worth, enough = (
                int(self._sizes[k]),
                float(self._worths[k]),
                self.worth(length=length, first=k) - _SLACK,
            )
            # As many of the longer pieces as the best may have.
            for j in range(self._most(k, length), -1, -1):
                if self.worth(length=length - j * size, first=k + 1) + j * worth >= enough:
                    counts[k] = j
                    length -= j * size
                    break
        return counts

    def worth_at_least(self, *, length: int, worth: float, steps: int, most: int) -> Listed:
        """Every pattern to which nothing can be added and that is worth so much, or as many of them as a
        search of so many steps comes to and as are asked for."""
        counts, through = _list(
            self._best, self._row_of, self._sizes, self._worths, self._copies, length, worth, steps, most
        )
        return Listed(counts=counts, through=through)

    def _most(self, k: int, length: int) -> int:
        return int(min(self._copies[k], length // self._sizes[k]))


def warm() -> None:
    """Compile the kernels, or load them from the cache."""
    table = Patterns(sizes=np.array([3, 2]), greatest=7)
    table.fill(worths=np.array([1.0, 0.5]), copies=np.array([2, 1]))
    table.worth_at_least(length=7, worth=1.0, steps=10, most=3)


@kernel
def _fill(best: Floats, row_of: Counts, sizes: Counts, worths: Floats, copies: Counts) -> None:
    """Rows from the last piece to the first, each from the one before; row 0 is that of no piece."""
    used = 0
    row_of[sizes.size] = used
    for k in range(sizes.size - 1, -1, -1):
        size = sizes[k]
        row_of[k] = used
        if copies[k] < 1 or worths[k] <= _SLACK or size >= best.shape[1]:
            continue
        after, row = best[used], best[used + 1]
        used += 1
        row_of[k] = used
        row[:size] = after[:size]
        without, shorter, out = after[size:], after[: row.size - size], row[size:]
        worth = worths[k]
        for i in range(out.size):
            with_one = shorter[i] + worth
            out[i] = with_one if with_one > without[i] else without[i]
        # One more, then 2, 4, … and a rest: they add up to every count there may be and to no other.
        left, some = copies[k] - 1, min(1, copies[k] - 1)
        step = 1
        while left > 0 and some * size < row.size:
            shift, worth = some * size, some * worths[k]
            for i in range(row.size - 1, shift - 1, -1):
                row[i] = max(row[i], row[i - shift] + worth)
            left -= some
            step *= 2
            some = min(step, left)


@kernel
def _list(
    best: Floats,
    row_of: Counts,
    sizes: Counts,
    worths: Floats,
    copies: Counts,
    length: int,
    worth: float,
    steps: int,
    most: int,
) -> tuple[Counts, bool]:
    """Depth first, as many of each piece as may be tried first."""
    pieces = sizes.size
    room = 2
    for k in range(pieces):
        room += min(copies[k], length // sizes[k]) + 1
    # One open choice: the next piece, the length left, what it must still be worth, how many were taken.
    todo_k, todo_kept, todo_taken = (
        np.zeros(room, dtype=np.int64),
        np.zeros(room, dtype=np.int64),
        np.zeros(room, dtype=np.int64),
    )
    todo_need = np.zeros(room)
    counts = np.zeros(pieces, dtype=np.int64)
    found = np.zeros((most, pieces), dtype=np.int64)
    n, top = 0, 1
    todo_kept[0], todo_need[0], todo_taken[0] = length, worth, -1
    while top:
        steps -= 1
        if steps <= 0:
            return found[:n].copy(), False
        top -= 1
        k, kept, need, taken = todo_k[top], todo_kept[top], todo_need[top], todo_taken[top]
        if taken >= 0:
            counts[k - 1] = taken
        if k == pieces:
            full = True
            for i in range(pieces):
                if sizes[i] <= kept and counts[i] < copies[i]:
                    full = False
                    break
            if full:
                if n == most:
                    return found.copy(), False
                found[n] = counts
                n += 1
            continue
        for j in range(min(copies[k], kept // sizes[k]) + 1):
            rest, wanted = kept - j * sizes[k], need - j * worths[k]
            if best[row_of[k + 1], rest] >= wanted - _SLACK:
                todo_k[top], todo_kept[top], todo_need[top], todo_taken[top] = k + 1, rest, wanted, j
                top += 1
    return found[:n].copy(), True
