"""Cutting problems whose least number of sticks is known."""

import numpy as np

CLASSIC_STOCK, CLASSIC_OPTIMUM = 5600, 73
_CLASSIC_WIDTHS = (1380, 1520, 1560, 1710, 1820, 1880, 1930, 2000, 2050, 2100, 2140, 2150, 2200)
_CLASSIC_DEMANDS = (22, 25, 12, 14, 18, 18, 20, 10, 12, 14, 16, 18, 20)
CLASSIC = tuple(
    width for width, many in zip(_CLASSIC_WIDTHS, _CLASSIC_DEMANDS, strict=True) for _ in range(many)
)
"""Paper rolls of the textbooks, data from memory."""


def perfectly_cut(
    rng: np.random.Generator, *, types: int, stock: int, kerf: int, least: int = 3000, copies: int = 1
) -> tuple[tuple[int, ...], int]:
    """Pieces of at least so many lengths, each at least `least`, from sticks of 2 to 6 pieces cut at random
    places, each stick up to `copies` times; and the number of sticks."""
    pieces: list[int] = []
    sticks = 0
    while len(set(pieces)) < types:
        count, alike = int(rng.integers(2, 7)), int(rng.integers(1, copies + 1))
        free = stock + kerf - count * (least + kerf)
        cuts = np.sort(rng.integers(0, free + 1, count - 1))
        parts = np.diff(np.concatenate([[0], cuts, [free]])) + least
        pieces += [int(part) for part in parts] * alike
        sticks += alike
    return tuple(pieces), sticks
