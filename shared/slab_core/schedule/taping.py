"""Straps and tape hold the boards until the adhesive does, and come off before it holds them too well."""

from dataclasses import replace

from slab_core.takeoff.model import Task


def with_tape_off(*, tasks: tuple[Task, ...], share: float) -> tuple[Task, ...]:
    """Laying without the share of its hours that taking straps and tape off takes, and that as work of its
    own after the last spread of each floor and phase: somebody has to come back for it in time."""
    full: list[Task] = []
    for at, task in enumerate(tasks):
        if task.code != "spread":
            full.append(task)
            continue
        full.append(replace(task, person_hours=(1.0 - share) * task.person_hours))
        area = [i for i, one in enumerate(tasks) if one.code == "spread" and _same(one, task)]
        if at == area[-1]:
            hours = share * sum(tasks[i].person_hours for i in area)
            full.append(
                Task(
                    code="tape-off",
                    what="Take off straps and tape",
                    floor=task.floor,
                    phase=task.phase,
                    person_hours=hours,
                    most_people=2,
                )
            )
    return tuple(full)


def _same(one: Task, other: Task) -> bool:
    return (one.floor, one.phase) == (other.floor, other.phase)
