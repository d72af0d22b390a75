"""Ways to fill a length with pieces, each worth something: the best of them, and all that are good enough."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from slab_core.numerics.grid import Floats

Counts = NDArray[np.int64]
"""How many of each piece."""

_SLACK = 1e-9


class Patterns:
    """Bounded knapsack over whole sizes, exact by dynamic programming, filled again for other worths.

    Row k of the table holds the most that pieces k, k + 1, … are worth together in each length up to the
    greatest, so that one filling answers for every length and for every tail of the pieces.
    """

    def __init__(self, *, sizes: Counts, greatest: int) -> None:
        self._sizes = sizes
        self._best = np.zeros((len(sizes) + 1, greatest + 1))
        self._spare = np.zeros(greatest + 1)

    def fill(self, *, worths: Floats, copies: Counts) -> None:
        """Worths are not negative; at most so many copies of each piece are used."""
        self._worths, self._copies = worths, copies
        for k in range(len(self._sizes) - 1, -1, -1):
            row, before = self._best[k], self._best[k + 1]
            # 1, 2, 4, … and a rest add up to every count there may be and to no other.
            left, step = int(copies[k]) if worths[k] > _SLACK else 0, 1
            while left > 0 and (size := (some := min(step, left)) * int(self._sizes[k])) < len(row):
                added = np.add(before[:-size], some * worths[k], out=self._spare[size:])
                np.maximum(before[size:], added, out=row[size:])
                if before is not row:
                    row[:size] = before[:size]
                before, left, step = row, left - some, 2 * step
            if before is not row:
                row[:] = before

    def worth(self, *, length: int, first: int = 0) -> float:
        """The most that pieces from `first` on are worth in a length."""
        return float(self._best[first, length])

    def best(self, *, length: int, first: int = 0) -> Counts:
        """Counts of a pattern that is worth that."""
        counts = np.zeros(len(self._sizes), dtype=np.int64)
        for k in range(first, len(self._sizes)):
            size, worth, enough = int(self._sizes[k]), float(self._worths[k]), self._best[k, length] - _SLACK
            # As many of the longer pieces as the best may have.
            for j in range(self._most(k, length), -1, -1):
                if self._best[k + 1, length - j * size] + j * worth >= enough:
                    counts[k] = j
                    length -= j * size
                    break
        return counts

    def worth_at_least(self, *, length: int, worth: float, steps: int) -> Iterator[Counts | None]:
        """Every pattern to which nothing can be added and that is worth so much; None, as the last, once
        the search has taken so many steps and is not through."""
        counts = np.zeros(len(self._sizes), dtype=np.int64)
        todo = [(0, length, worth, -1)]
        while todo:
            if not (steps := steps - 1):
                yield None
                return
            k, kept, need, taken = todo.pop()
            if taken >= 0:
                counts[k - 1] = taken
            if k == len(self._sizes):
                if not np.any((self._sizes <= kept) & (counts < self._copies)):
                    yield counts.copy()
                continue
            for j in range(self._most(k, kept) + 1):
                rest, wanted = kept - j * int(self._sizes[k]), need - j * float(self._worths[k])
                if self._best[k + 1, rest] >= wanted - _SLACK:
                    todo.append((k + 1, rest, wanted, j))

    def _most(self, k: int, length: int) -> int:
        return int(min(self._copies[k], length // self._sizes[k]))
