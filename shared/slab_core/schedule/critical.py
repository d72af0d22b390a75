"""Why the plan ends when it does, in words."""

from __future__ import annotations

from dataclasses import dataclass

from slab_core.schedule.axis import Axis
from slab_core.schedule.grid import Link, Places, Puzzle, ready_slot
from slab_core.schedule.model import Activity
from slab_core.schedule.names import names


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cause:
    """`waits` is False where work only goes on from one piece to the next."""

    earlier: int | None
    text: str
    waits: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class _Step:
    day: int
    index: int
    text: str
    waits: bool


def critical_chain(
    *, activities: tuple[Activity, ...], puzzle: Puzzle, axis: Axis, places: Places
) -> tuple[str, ...]:
    """From the first activity to the last one, what each waits for. Days are working days, from 1."""
    said = names(activities)
    index: int | None = max(range(puzzle.count), key=lambda i: (places.end(i), i))
    steps: list[_Step] = []
    seen: set[int] = set()
    while index is not None and index not in seen:
        seen.add(index)
        cause = _cause(said, puzzle, axis, places, index)
        day = axis.day_of(places.starts[index]) - axis.day_of(min(places.starts)) + 1
        steps.append(_Step(day=day, index=index, text=cause.text, waits=cause.waits))
        index = cause.earlier
    return tuple(_sentence(run, activities, said) for run in _runs(steps[::-1], activities))


def _runs(steps: list[_Step], activities: tuple[Activity, ...]) -> list[list[_Step]]:
    """Steps of one code that only follow one another, such as spread after spread, are one run."""
    runs: list[list[_Step]] = []
    for step in steps:
        last = runs[-1][-1] if runs else None
        alike = last is not None and activities[last.index].code == activities[step.index].code
        same = alike and last is not None and activities[last.index].floor == activities[step.index].floor
        if same and not step.waits:
            runs[-1].append(step)
        else:
            runs.append([step])
    return runs


def _sentence(run: list[_Step], activities: tuple[Activity, ...], said: tuple[str, ...]) -> str:
    first, last = run[0], run[-1]
    text = f"Day {first.day}: {said[first.index]} {first.text}"
    if len(run) == 1:
        return f"{text}."
    until = "the same day" if last.day == first.day else f"until day {last.day}"
    return f"{text}, then {len(run) - 1} more one after the other, {until}, to {said[last.index]}."


def _cause(said: tuple[str, ...], puzzle: Puzzle, axis: Axis, places: Places, index: int) -> _Cause:
    link = _binding(puzzle, axis, places, index)
    if link is not None:
        name = said[link.earlier]
        if link.least > 0:
            return _Cause(
                earlier=link.earlier, text=f"waits {_hours(link.least)} for {link.why} after {name}"
            )
        return _Cause(earlier=link.earlier, text=f"comes right after {name}", waits=False)
    for other in range(puzzle.count):
        if other != index and places.end(other) == places.starts[index]:
            shared = puzzle.machines[other] and puzzle.machines[other] == puzzle.machines[index]
            what = puzzle.machines[index] if shared else "people"
            return _Cause(earlier=other, text=f"waits for the {what} at work on: {said[other]}")
    return _rest(said, puzzle, axis, places, index)


def _rest(said: tuple[str, ...], puzzle: Puzzle, axis: Axis, places: Places, index: int) -> _Cause:
    """Neither a wait nor people hold it back: a new day, a greatest lag behind it, or nothing."""
    last = max(puzzle.before[index], key=lambda lk: _ready(axis, places, lk), default=None)
    earlier = None if last is None else last.earlier
    for link in puzzle.after[index]:
        if link.greatest is not None:
            name = said[link.later]
            text = f"is held back so that {name} follows within {_hours(link.greatest)}"
            return _Cause(earlier=earlier, text=text)
    if last is not None and last.least > 0:
        wait = f"waits {_hours(last.least)} for {last.why} after {said[last.earlier]}"
        return _Cause(earlier=earlier, text=f"{wait}, then for a shift that it fits into")
    if places.starts[index] in (0, *axis.day_last):
        text = "begins the job" if earlier is None else f"starts with the day, after {said[earlier]}"
        return _Cause(earlier=earlier, text=text, waits=earlier is None)
    return _Cause(earlier=earlier, text="starts when the crew can")


def _binding(puzzle: Puzzle, axis: Axis, places: Places, index: int) -> Link | None:
    """The lag that keeps an activity from starting a slot earlier; of several the longest wait, and of equal
    ones that on what ended last."""
    tight = [link for link in puzzle.before[index] if _ready(axis, places, link) == places.starts[index]]
    return max(tight, key=lambda lk: (lk.least, places.end(lk.earlier), -lk.earlier), default=None)


def _ready(axis: Axis, places: Places, link: Link) -> int:
    """The first slot in which what waits may start."""
    return ready_slot(axis=axis, end=places.end(link.earlier), least=link.least)


def _hours(minutes: int) -> str:
    return f"{minutes / 60:.3g} h"
