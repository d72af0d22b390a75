"""How many people may work on a task, and how long it takes them."""

from dataclasses import dataclass
from math import ceil

from slab_core.takeoff.model import Task


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """So many people for so many worked minutes."""

    people: int
    minutes: int


def choices(*, task: Task, crew: int) -> tuple[Choice, ...]:
    """The numbers of people that make a difference, fewest first.

    Minutes are person-hours / people, or the machine's hours if they are more; a further person beside a
    machine that is busy anyway is no choice. A crew smaller than the task's least people works as a whole.
    Nobody is on a mere wait.
    """
    if task.person_hours <= 0:
        return (Choice(people=0, minutes=_minutes(task.machine_hours)),)
    most = max(1, min(max(task.least_people, task.most_people), crew))
    found: list[Choice] = []
    for people in range(min(max(1, task.least_people), most), most + 1):
        minutes = _minutes(max(task.person_hours / people, task.machine_hours))
        if not found or minutes < found[-1].minutes:
            found.append(Choice(people=people, minutes=minutes))
    return tuple(found)


def _minutes(hours: float) -> int:
    return max(1, ceil(hours * 60 - 1e-6))
