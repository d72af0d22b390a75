"""The axis of worked time: short equal slots, one after the other, nights and weekends left out."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from datetime import date

from slab_core.schedule.calendars import Window

SLOT_MINUTES = 5
"""Grid of the plan, counted from the full hour. Minutes of a window beyond whole slots are left idle."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """Slots `first` (included) to `last` (excluded) that follow each other without a gap: a slot's start
    is `SLOT_MINUTES * slot + offset` in UTC minutes. `day` counts working days from 0."""

    first: int
    last: int
    offset: int
    day: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """Worked slots against UTC minutes."""

    pieces: tuple[Piece, ...]
    firsts: tuple[int, ...]
    ends: tuple[int, ...]
    day_last: tuple[int, ...]

    @property
    def slots(self) -> int:
        """How many slots there are."""
        return self.pieces[-1].last if self.pieces else 0

    def piece_at(self, slot: int) -> Piece:
        """The piece that holds a slot."""
        return self.pieces[bisect_right(self.firsts, slot) - 1]

    def start_minute(self, slot: int) -> int:
        """UTC minute at which a slot begins."""
        return SLOT_MINUTES * slot + self.piece_at(slot).offset

    def end_minute(self, end: int) -> int:
        """UTC minute at which work that ends before slot `end` is over: not the next morning."""
        return SLOT_MINUTES * end + self.piece_at(end - 1).offset

    def slot_from(self, minute: int) -> int:
        """The first slot that begins at or after a UTC minute; `slots` when there is none."""
        index = bisect_right(self.ends, minute)
        if index == len(self.pieces):
            return self.slots
        piece = self.pieces[index]
        slot = max(piece.first, -((piece.offset - minute) // SLOT_MINUTES))
        return slot if slot < piece.last else piece.last

    def day_of(self, slot: int) -> int:
        """Working day of a slot, from 0."""
        return self.piece_at(slot).day

    def day_end(self, slot: int) -> int:
        """The slot after the last one of this slot's day."""
        return self.day_last[self.day_of(slot)]

    def longest_day(self) -> int:
        """Slots of the longest day."""
        starts = (0, *self.day_last)[: len(self.day_last)]
        return max((end - start for start, end in zip(starts, self.day_last, strict=True)), default=0)


def axis_of(*, windows: tuple[Window, ...]) -> Axis:
    """Slots over the windows of a calendar."""
    pieces: list[Piece] = []
    first, days = 0, list[date]()
    for window in windows:
        begin = -(-window.start // SLOT_MINUTES) * SLOT_MINUTES
        count = (window.end - begin) // SLOT_MINUTES
        if count <= 0:
            continue
        if not days or days[-1] != window.day:
            days.append(window.day)
        offset = begin - SLOT_MINUTES * first
        pieces.append(Piece(first=first, last=first + count, offset=offset, day=len(days) - 1))
        first += count
    return Axis(
        pieces=tuple(pieces),
        firsts=tuple(p.first for p in pieces),
        ends=tuple(SLOT_MINUTES * p.last + p.offset for p in pieces),
        day_last=tuple(_day_last(pieces, day) for day in range(len(days))),
    )


def _day_last(pieces: list[Piece], day: int) -> int:
    """The slot after the last one of a working day."""
    return pieces[bisect_left([p.day for p in pieces], day + 1) - 1].last
