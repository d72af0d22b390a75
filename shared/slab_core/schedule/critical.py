"""Why the plan ends when it does, in words."""

from __future__ import annotations

from dataclasses import dataclass

from slab_core.schedule.axis import Axis
from slab_core.schedule.grid import Link, Places, Puzzle, ready_slot
from slab_core.schedule.model import Activity


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cause:
    earlier: int | None
    text: str


def critical_chain(
    *, activities: tuple[Activity, ...], puzzle: Puzzle, axis: Axis, places: Places
) -> tuple[str, ...]:
    """From the first activity to the last one, what each waits for. Days are working days, from 1."""
    index: int | None = max(range(puzzle.count), key=lambda i: (places.end(i), i))
    sentences: list[str] = []
    seen: set[int] = set()
    while index is not None and index not in seen:
        seen.add(index)
        cause = _cause(activities, puzzle, axis, places, index)
        day = axis.day_of(places.starts[index]) - axis.day_of(min(places.starts)) + 1
        sentences.append(f"Day {day}: {_name(activities[index])} {cause.text}.")
        index = cause.earlier
    return tuple(reversed(sentences))


def _cause(
    activities: tuple[Activity, ...], puzzle: Puzzle, axis: Axis, places: Places, index: int
) -> _Cause:
    link = _binding(puzzle, axis, places, index)
    if link is not None:
        name = _name(activities[link.earlier])
        if link.least > 0:
            return _Cause(
                earlier=link.earlier, text=f"waits {_hours(link.least)} for {link.why} after {name}"
            )
        return _Cause(earlier=link.earlier, text=f"comes right after {name}")
    for other in range(puzzle.count):
        if other != index and places.end(other) == places.starts[index]:
            shared = puzzle.machines[other] and puzzle.machines[other] == puzzle.machines[index]
            what = puzzle.machines[index] if shared else "people"
            return _Cause(earlier=other, text=f"waits for the {what} at work on {_name(activities[other])}")
    return _rest(activities, puzzle, axis, places, index)


def _rest(activities: tuple[Activity, ...], puzzle: Puzzle, axis: Axis, places: Places, index: int) -> _Cause:
    """Neither a wait nor people hold it back: a new day, a greatest lag behind it, or nothing."""
    last = max(puzzle.before[index], key=lambda lk: places.end(lk.earlier), default=None)
    earlier = None if last is None else last.earlier
    for link in puzzle.after[index]:
        if link.greatest is not None:
            name = _name(activities[link.later])
            text = f"is held back so that {name} follows within {_hours(link.greatest)}"
            return _Cause(earlier=earlier, text=text)
    if places.starts[index] in (0, *axis.day_last):
        text = (
            "begins the job"
            if earlier is None
            else f"starts with the day, after {_name(activities[earlier])}"
        )
        return _Cause(earlier=earlier, text=text)
    return _Cause(earlier=earlier, text="starts when the crew can")


def _binding(puzzle: Puzzle, axis: Axis, places: Places, index: int) -> Link | None:
    """The lag that keeps an activity from starting a slot earlier; of several the longest wait."""
    tight = [
        link
        for link in puzzle.before[index]
        if ready_slot(axis=axis, end=places.end(link.earlier), least=link.least) == places.starts[index]
    ]
    return max(tight, key=lambda lk: (lk.least, -lk.earlier), default=None)


def _name(activity: Activity) -> str:
    where = f" ({activity.id})" if activity.code in ("pour", "spread", "prime") else ""
    return f"{activity.what[:1].lower()}{activity.what[1:]}{where}"


def _hours(minutes: int) -> str:
    return f"{minutes / 60:.3g} h"
