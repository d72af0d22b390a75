"""Pours that are more than a crew places in a day are stopped with a dam and go on the next day."""

from dataclasses import replace

from slab_core.materials.pour_days import Share, by_day
from slab_core.materials.rates_model import Rates
from slab_core.takeoff.model import Task


def poured_by_day(*, tasks: tuple[Task, ...], rates: Rates) -> tuple[Task, ...]:
    """The tasks with each pour of more bags than a day takes of its kind cut into the parts of its days.

    Hours are shared as the bags are. The lifts of an area are poured one after the other, bay by bay.
    """
    shares: dict[int, tuple[Share, ...]] = {}
    for group in _in_turn(tasks):
        most = rates.most_bags(free=tasks[group[0]].free)
        days = by_day(bags=[tasks[i].bags for i in group], per_day=most)
        shares.update(zip(group, days, strict=True))
    return tuple(part for i, task in enumerate(tasks) for part in _parts(task, shares.get(i, ())))


def _in_turn(tasks: tuple[Task, ...]) -> list[list[int]]:
    groups: dict[tuple[str, int, int, bool], list[int]] = {}
    for i, task in enumerate(tasks):
        if task.code == "pour" and task.bags > 0:
            groups.setdefault((task.floor, task.phase, task.lift, task.free), []).append(i)
    return list(groups.values())


def _parts(task: Task, shares: tuple[Share, ...]) -> tuple[Task, ...]:
    if len(shares) < 2:
        return (task,)
    return tuple(
        replace(
            task,
            part=f"{task.part}-part{n}",
            bags=share.bags,
            person_hours=task.person_hours * share.bags / task.bags,
            machine_hours=task.machine_hours * share.bags / task.bags,
        )
        for n, share in enumerate(shares, start=1)
    )
