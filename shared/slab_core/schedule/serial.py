"""A fast plan: activities placed one after the other, each so that it ends as early as it can."""

from __future__ import annotations

from collections.abc import Sequence

from slab_core.schedule.axis import Axis
from slab_core.schedule.grid import Mode, Places, Puzzle, overdue, ready_slot

REPAIRS = 60
"""How often an activity is moved later so that a greatest lag behind it can be kept."""


class AxisTooShort(Exception):
    """The plan runs past the last slot: ask again with more days."""


def serial(*, puzzle: Puzzle, axis: Axis, priority: Sequence[float]) -> Places | None:
    """A plan, placing what has the least `priority` first among what is free to go.

    Where a greatest lag is exceeded the earlier activity is released later, and everything is placed
    again. None when that did not help.

    Raises
    ------
    AxisTooShort
        when an activity does not fit on the axis.
    """
    release = [0] * puzzle.count
    for _ in range(REPAIRS):
        places = _Builder(puzzle, axis, release).build(priority)
        late = _held_back(puzzle, axis, places)
        if late is None:
            return places
        earlier, slot = late
        if slot <= places.starts[earlier]:
            return None
        release[earlier] = slot
    return None


class _Builder:
    """What is placed so far, and who and what is busy when."""

    def __init__(self, puzzle: Puzzle, axis: Axis, release: list[int]) -> None:
        self.puzzle, self.axis, self.release = puzzle, axis, release
        self.starts = [-1] * puzzle.count
        self.ends = [-1] * puzzle.count
        self.modes: list[Mode] = [modes[-1] for modes in puzzle.modes]
        self.used = [0] * axis.slots
        self.poured = [0] * len(axis.day_last)
        self.busy = {name: bytearray(axis.slots) for name in set(puzzle.machines) if name}

    def build(self, priority: Sequence[float]) -> Places:
        puzzle = self.puzzle
        waiting = [len(row) for row in puzzle.before]
        free = [i for i in range(puzzle.count) if waiting[i] == 0]
        while free:
            index = min(free, key=lambda i: (priority[i], i))
            free.remove(index)
            self._place(index)
            for link in puzzle.after[index]:
                waiting[link.later] -= 1
                if waiting[link.later] == 0:
                    free.append(link.later)
        return Places(starts=tuple(self.starts), modes=tuple(self.modes))

    def _place(self, index: int) -> None:
        earliest = self._earliest(index)
        fits = [(self._fit(index, mode, earliest), mode) for mode in self.puzzle.modes[index]]
        start, mode = min(fits, key=lambda f: (f[0] + f[1].length, f[1].people))
        end = start + mode.length
        if end > self.axis.slots:
            raise AxisTooShort
        self.starts[index], self.ends[index], self.modes[index] = start, end, mode
        for slot in range(start, end):
            self.used[slot] += mode.people
        self.poured[self.axis.day_of(start)] += self.puzzle.loads[index]
        if self.puzzle.machines[index]:
            self.busy[self.puzzle.machines[index]][start:end] = b"\x01" * mode.length

    def _earliest(self, index: int) -> int:
        earliest = self.release[index]
        for link in self.puzzle.before[index]:
            earliest = max(
                earliest, ready_slot(axis=self.axis, end=self.ends[link.earlier], least=link.least)
            )
        return earliest

    def _fit(self, index: int, mode: Mode, earliest: int) -> int:
        """The first start without a clash; one past the axis when there is none."""
        axis, start = self.axis, earliest
        spare, machine = self.puzzle.crew - mode.people, self.busy.get(self.puzzle.machines[index], b"")
        while start + mode.length <= axis.slots:
            if self.puzzle.whole[index] and start + mode.length > axis.day_end(start):
                start = axis.day_end(start)
                continue
            if self._poured_out(index, start):
                start = axis.day_end(start)
                continue
            clash = self._last_clash(start, start + mode.length, spare, machine)
            if clash < 0:
                return start
            start = clash + 1
        return axis.slots

    def _poured_out(self, index: int, start: int) -> bool:
        """Whether a start on this day would pour more bags than a day takes."""
        load, most = self.puzzle.loads[index], self.puzzle.day_load
        return load > 0 and most > 0 and self.poured[self.axis.day_of(start)] + load > most

    def _last_clash(self, start: int, end: int, spare: int, machine: bytes | bytearray) -> int:
        blocked = machine.rfind(b"\x01", start, end) if machine else -1
        for slot in range(end - 1, max(start - 1, blocked), -1):
            if self.used[slot] > spare:
                return slot
        return blocked


def _held_back(puzzle: Puzzle, axis: Axis, places: Places) -> tuple[int, int] | None:
    """The first activity whose end is too early for a greatest lag, and the start that would do."""
    for link in puzzle.links:
        if overdue(axis=axis, link=link, places=places):
            length = places.modes[link.earlier].length
            needed = max(
                axis.start_minute(places.starts[other.later]) - other.greatest
                for other in puzzle.after[link.earlier]
                if other.greatest is not None
            )
            first = places.starts[link.earlier] + 1
            while first + length < axis.slots and axis.end_minute(first + length) < needed:
                first += 1
            return link.earlier, first
    return None


def tails(*, puzzle: Puzzle) -> list[float]:
    """Roughly the elapsed minutes from an activity's start to the end of the plan: the longest path over
    least lags and work, which takes three times as long as it would without nights."""
    longest = [0.0] * puzzle.count
    for index in reversed(puzzle.order):
        rest = (link.least + longest[link.later] for link in puzzle.after[index])
        longest[index] = 15.0 * puzzle.shortest(index) + max(rest, default=0.0)
    return longest
