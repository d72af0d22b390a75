"""Primer is rolled on for what is poured within its time: one priming for each day of pours."""

from dataclasses import replace

from slab_core.materials.rates_model import Rates
from slab_core.schedule.people import choices
from slab_core.takeoff.model import Task, lift_part

JOINED = "+"


def primed_by_day(*, tasks: tuple[Task, ...], rates: Rates, day_minutes: int) -> tuple[Task, ...]:
    """The tasks with each floor's priming cut where its pours fill a day, by their minutes or their bags.

    Hours are shared as the pours' own hours are; the part of a cut priming names its pours. A priming
    whose pours all fit into one day stays as it is.
    """
    made: list[Task] = []
    for task in tasks:
        pours = [t for t in tasks if task.code == "prime" and _on(task, t)]
        groups = _days(pours, rates, day_minutes)
        made.extend(_cut(task, groups) if len(groups) > 1 else [task])
    return tuple(made)


def primes(*, prime: Task, pour: Task) -> bool:
    """Whether a priming is the one of the slab under a pour."""
    whole = not _is_cut(prime)
    return _lift(prime) == _lift(pour) and (whole or pour.part in prime.part.split(JOINED))


def _on(prime: Task, pour: Task) -> bool:
    same = (prime.floor, prime.phase, _lift(prime)) == (pour.floor, pour.phase, _lift(pour))
    return pour.code == "pour" and same and not _is_cut(prime)


def _is_cut(prime: Task) -> bool:
    """Whether a priming is one of several of its lift, which name their pours."""
    return prime.part not in ("", lift_part(prime.lift))


def _lift(task: Task) -> int:
    return max(task.lift, 1)


def _days(pours: list[Task], rates: Rates, day_minutes: int) -> list[list[Task]]:
    """Pours of one floor and phase; they are of one kind."""
    groups: list[list[Task]] = []
    left, bags = 0.0, 0
    for pour in pours:
        minutes = choices(task=pour, crew=rates.people)[-1].minutes
        if not groups or minutes > left or pour.bags > bags:
            groups.append([])
            left, bags = float(day_minutes), rates.most_bags(free=pour.free)
        groups[-1].append(pour)
        left, bags = left - minutes, bags - pour.bags
    return groups


def _cut(prime: Task, groups: list[list[Task]]) -> list[Task]:
    whole = sum(pour.person_hours for group in groups for pour in group)
    return [
        replace(
            prime,
            person_hours=prime.person_hours * sum(pour.person_hours for pour in group) / whole,
            part=JOINED.join(pour.part for pour in group),
        )
        for group in groups
    ]
