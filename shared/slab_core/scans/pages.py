"""Blocks of memory in which the points of a scan are kept by groups of neighbouring cells."""

from dataclasses import dataclass

import numpy as np

from slab_core.numerics.grid import Ints
from slab_core.scans.gather_kernels import PAGE, TILE, Records, thin

MOST_GROUPS = 128
"""So many pages are written to at a time; more would not stay in the processor's own memory."""


def group_shift(cells: int) -> int:
    """How many last bits of a cell's number are left off for its group's, so that groups are few."""
    return max(0, (max(1, cells) - 1).bit_length() - (MOST_GROUPS.bit_length() - 1))


@dataclass(slots=True, kw_only=True)
class Block:
    """Pages of points: their records, the next place of every group, and whose each page is.

    `at` is 0 for a group that has no page yet; a multiple of a page says that its last one is full.
    """

    records: Records
    at: Records
    owner: Ints
    pages: int = 0

    @classmethod
    def for_points(cls, points: int, *, cells: int) -> "Block":
        """A block in which at least so many points have room, wherever they lie."""
        groups = ((cells - 1) >> group_shift(cells)) + 1
        pages = -(-points // PAGE) + groups + TILE // PAGE + min(groups, TILE)
        return cls(
            records=np.empty(pages * PAGE, dtype=np.int64),
            at=np.zeros(groups, dtype=np.int64),
            owner=np.empty(pages, dtype=np.int32),
        )

    def held(self) -> Ints:
        """How many points each page that is in use holds."""
        held = np.full(self.pages, PAGE, dtype=np.int32)
        part = self.at % PAGE
        held[self.at[part > 0] // PAGE] = part[part > 0]
        return held

    def points(self) -> int:
        """How many points are in the block."""
        return int(self.held().sum())

    def by_group(self) -> tuple[Ints, Ints]:
        """Pages in the order of their groups, and how many points each holds."""
        order = np.argsort(self.owner[: self.pages], kind="stable").astype(np.int32)
        return order, self.held()[order]

    def thinned(self, *, drop: Ints, seen: Ints) -> "Block":
        """The same points but of the cells to `drop` from every second one, without room for more."""
        pages, held = self.by_group()
        kept = Block.for_points(int(held.sum()), cells=len(drop))
        kept.pages = thin(
            self.records, pages, held, drop, seen, group_shift(len(drop)), kept.records, kept.at, kept.owner
        )
        kept.records = kept.records[: kept.pages * PAGE].copy()
        kept.owner = kept.owner[: kept.pages].copy()
        return kept
