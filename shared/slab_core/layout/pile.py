"""Boards at hand: an open part of a virtual bundle, and the offcuts kept for later rows."""

from dataclasses import dataclass, field, replace

import numpy as np

from slab_core.numerics.grid import Floats

OPEN_BOARDS = 48
"""About three open cartons: what a crew racks out and chooses from."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Offcut:
    """What is left of a board, with one whole end."""

    length_m: float
    board: int
    board_length_m: float


@dataclass(slots=True)
class Pile:
    """A bundle that holds each length equally often, in an order drawn from `rng`, opened as needed.

    It is opened no further than what `need_m` (metres of row still to lay) calls for, so that
    the boards chosen from are boards that were bought.
    """

    kinds: Floats
    rng: np.random.Generator
    counts: Floats = field(default_factory=lambda: np.zeros(0))
    taken: int = 0
    taken_m: float = 0.0
    starters: list[Offcut] = field(default_factory=list)
    enders: list[Offcut] = field(default_factory=list)
    _waiting: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        if not len(self.counts):
            self.counts = np.zeros(len(self.kinds))

    def copy(self) -> "Pile":
        """The same pile, but for the chance, which both go on drawing from."""
        return replace(
            self,
            counts=self.counts.copy(),
            starters=list(self.starters),
            enders=list(self.enders),
            _waiting=list(self._waiting),
        )

    def open(self, *, need_m: float) -> None:
        """Open boards until there are enough to choose from, or enough for the rest of the floor."""
        enough_m = 1.05 * need_m + 2 * float(self.kinds[-1])
        while self.counts.sum() < OPEN_BOARDS and float(self.counts @ self.kinds) < enough_m:
            self.draw()

    def draw(self) -> None:
        """Open one more board."""
        if not self._waiting:
            self._waiting = list(self.rng.permutation(np.repeat(np.arange(len(self.kinds)), 4)))
        self.counts[self._waiting.pop()] += 1

    def take(self, kind: int) -> Offcut:
        """Take a whole board; it gets the next number."""
        self.counts[kind] -= 1
        self.taken += 1
        length = float(self.kinds[kind])
        self.taken_m += length
        return Offcut(length_m=length, board=self.taken, board_length_m=length)
