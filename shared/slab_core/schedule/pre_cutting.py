"""Boards are cut dry where the floor leaves the crew waiting: in stacks, each for the spreads it feeds."""

from dataclasses import replace

from slab_core.schedule.people import choices
from slab_core.schedule.priming import JOINED
from slab_core.takeoff.model import Task

STACKS_A_DAY = 2
"""A stack is at most half a day's cutting, so that it fits beside a pour or into a wait (common practice)."""


def cut_in_stacks(*, tasks: tuple[Task, ...], crew: int, day_minutes: int) -> tuple[Task, ...]:
    """The tasks with pre-cutting of more than a day divided by the spreads of its floor and phase.

    Hours are shared as the spreads' own hours are; the part of a stack names its spreads. What fits into a
    day stays in one piece.
    """
    made: list[Task] = []
    for task in tasks:
        long = task.code == "pre-cut" and choices(task=task, crew=crew)[-1].minutes > day_minutes
        made.extend(_stacks(task, tasks, crew, day_minutes) if long else [task])
    return tuple(made)


def feeds(*, pre_cut: Task, spread: Task) -> bool:
    """Whether a stack holds the boards of a spread."""
    return not pre_cut.part or spread.part in pre_cut.part.split(JOINED)


def _stacks(pre_cut: Task, tasks: tuple[Task, ...], crew: int, day_minutes: int) -> list[Task]:
    area = (pre_cut.floor, pre_cut.phase)
    spreads = [t for t in tasks if t.code == "spread" and (t.floor, t.phase) == area]
    whole = sum(spread.person_hours for spread in spreads)
    if whole <= 0:
        return [pre_cut]
    minutes = choices(task=pre_cut, crew=crew)[-1].minutes
    groups: list[list[Task]] = []
    left = 0.0
    for spread in spreads:
        needs = minutes * spread.person_hours / whole
        if not groups or needs > left:
            groups.append([])
            left = day_minutes / STACKS_A_DAY
        groups[-1].append(spread)
        left -= needs
    return [
        replace(
            pre_cut,
            person_hours=pre_cut.person_hours * sum(spread.person_hours for spread in group) / whole,
            part=JOINED.join(spread.part for spread in group),
        )
        for group in groups
    ]
