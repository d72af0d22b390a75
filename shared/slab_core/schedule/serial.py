"""A fast plan: activities placed one after the other, each as early as it can be."""

from __future__ import annotations

from collections.abc import Sequence

from slab_core.schedule.axis import Axis
from slab_core.schedule.grid import Puzzle, overdue, ready_slot

REPAIRS = 200
"""How often an activity is moved later so that a greatest lag behind it can be kept."""


class AxisTooShort(Exception):
    """The plan runs past the last slot: ask again with more days."""


def serial(*, puzzle: Puzzle, axis: Axis, priority: Sequence[float]) -> tuple[int, ...] | None:
    """Start slots, placing what has the least `priority` first among what is free to go.

    Where a greatest lag is exceeded the earlier activity is released later, and everything is placed
    again. None when that did not help.

    Raises
    ------
    AxisTooShort
        when an activity does not fit on the axis.
    """
    release = [0] * puzzle.count
    for _ in range(REPAIRS):
        starts = _place_all(puzzle, axis, priority, release)
        late = _latest_start_that_helps(puzzle, axis, starts)
        if late is None:
            return tuple(starts)
        earlier, slot = late
        if slot <= starts[earlier]:
            return None
        release[earlier] = slot
    return None


def _place_all(puzzle: Puzzle, axis: Axis, priority: Sequence[float], release: list[int]) -> list[int]:
    starts = [-1] * puzzle.count
    waiting = [len(row) for row in puzzle.before]
    free = [i for i in range(puzzle.count) if waiting[i] == 0]
    used = [0] * axis.slots
    busy: dict[str, bytearray] = {m: bytearray(axis.slots) for m in set(puzzle.machines) if m}
    while free:
        index = min(free, key=lambda i: (priority[i], i))
        free.remove(index)
        earliest = _earliest(puzzle, axis, starts, index, release[index])
        starts[index] = _fit(puzzle, axis, index, earliest, used, busy)
        _occupy(puzzle, index, starts[index], used, busy)
        for link in puzzle.after[index]:
            waiting[link.later] -= 1
            if waiting[link.later] == 0:
                free.append(link.later)
    return starts


def _earliest(puzzle: Puzzle, axis: Axis, starts: list[int], index: int, release: int) -> int:
    earliest = release
    for link in puzzle.before[index]:
        end = starts[link.earlier] + puzzle.durations[link.earlier]
        earliest = max(earliest, ready_slot(axis=axis, end=end, least=link.least))
    return earliest


def _fit(
    puzzle: Puzzle, axis: Axis, index: int, earliest: int, used: list[int], busy: dict[str, bytearray]
) -> int:
    length, spare = puzzle.durations[index], puzzle.crew - puzzle.people[index]
    machine = busy.get(puzzle.machines[index], b"")
    start = earliest
    while start + length <= axis.slots:
        if puzzle.whole[index] and start + length > axis.day_end(start):
            start = axis.day_end(start)
            continue
        clash = _last_clash(start, length, spare, used, machine)
        if clash < 0:
            return start
        start = clash + 1
    raise AxisTooShort


def _last_clash(start: int, length: int, spare: int, used: list[int], machine: bytes | bytearray) -> int:
    for slot in range(start + length - 1, start - 1, -1):
        if used[slot] > spare or (machine and machine[slot]):
            return slot
    return -1


def _occupy(puzzle: Puzzle, index: int, start: int, used: list[int], busy: dict[str, bytearray]) -> None:
    end = start + puzzle.durations[index]
    for slot in range(start, end):
        used[slot] += puzzle.people[index]
    if puzzle.machines[index]:
        busy[puzzle.machines[index]][start:end] = b"\x01" * (end - start)


def _latest_start_that_helps(puzzle: Puzzle, axis: Axis, starts: list[int]) -> tuple[int, int] | None:
    """The first activity whose end is too early for a greatest lag, and the start that would do."""
    for link in puzzle.links:
        length = puzzle.durations[link.earlier]
        end = starts[link.earlier] + length
        if overdue(axis=axis, link=link, end=end, start=starts[link.later]):
            needed = axis.start_minute(starts[link.later]) - (link.greatest or 0)
            first = starts[link.earlier] + 1
            while first + length < axis.slots and axis.end_minute(first + length) < needed:
                first += 1
            return link.earlier, first
    return None


def tails(*, puzzle: Puzzle) -> list[float]:
    """Elapsed minutes from an activity's start to the end of the plan at least, nights left out of the work:
    the longest path over durations and least lags."""
    longest = [0.0] * puzzle.count
    for index in reversed(puzzle.order):
        rest = (link.least + longest[link.later] for link in puzzle.after[index])
        longest[index] = 15.0 * puzzle.durations[index] + max(rest, default=0.0)
    return longest
