"""How many people work on a task, and how long it takes them."""

from math import ceil

from slab_core.takeoff.model import Task


def people_on(*, task: Task, crew: int) -> int:
    """As many as the task takes and the crew has, beside a machine no more than it keeps busy; nobody on a
    mere wait."""
    if task.person_hours <= 0:
        return 0
    most = max(task.least_people, task.most_people)
    if task.machine_hours > 0:
        busy = ceil(task.person_hours / task.machine_hours - 1e-9)
        most = max(task.least_people, min(most, busy))
    return max(1, min(most, crew))


def hours_of(*, task: Task, crew: int) -> float:
    """Worked hours: person-hours shared by the people, or the machine's hours if they are more."""
    return max(task.person_hours / max(1, people_on(task=task, crew=crew)), task.machine_hours)
