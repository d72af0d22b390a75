"""The work of one estimate as a job of the firm: who can do each piece, in which order, after which waits."""

from __future__ import annotations

from dataclasses import dataclass, replace

from slab_core.materials.model import Catalogue, Climate
from slab_core.materials.rates_model import Rates
from slab_core.schedule.activities import Network, network
from slab_core.schedule.drying import Products
from slab_core.schedule.firm.model import FirmJob
from slab_core.schedule.firm.model import Task as FirmTask
from slab_core.schedule.model import STARTER_WAITS, Lag
from slab_core.schedule.names import names
from slab_core.schedule.skills import skill_of
from slab_core.takeoff.model import Hold, Task


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """What an estimate says of its work: tasks, what durations and waits follow from, and what has to be
    settled before."""

    tasks: tuple[Task, ...]
    rates: Rates
    climate: Climate
    catalogue: Catalogue
    holds: tuple[Hold, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Means:
    """What of the firm shapes a job's tasks: people of its largest crew, the kinds of machines that are
    shared, and the minutes of the longest day that may be worked at the site."""

    people: int
    machines: frozenset[str]
    day_minutes: int


def firm_job(
    *,
    id: str,
    site: str,
    work: Work,
    means: Means,
    earliest: int,
    delivered: int | None = None,
    promised: int | None = None,
) -> FirmJob:
    """The job with its tasks in an order in which each comes after what it waits for.

    A machine whose kind the firm does not list is no limit. What nobody is at (acclimation, which begins
    when the boards are `delivered`, else with the job) becomes a wait of what comes after. Work that must end
    on its day and is longer than any day may run over a night. All instants are UTC minutes.
    """
    products = Products(
        compound=work.catalogue.compound,
        primer=work.catalogue.primer,
        adhesive=work.catalogue.adhesive,
        climate=work.climate,
        waits=STARTER_WAITS,
        patch=work.catalogue.patch,
    )
    rates = replace(work.rates, people=means.people)
    made = network(tasks=work.tasks, rates=rates, products=products, day_minutes=means.day_minutes)
    begins = earliest if delivered is None else delivered
    tasks = _without_waits(_tasks(made, means), made, begins)
    held = _held(_in_order(tasks), made, work.holds)
    return FirmJob(id=id, site=site, tasks=held, earliest=earliest, promised=promised)


def _tasks(made: Network, means: Means) -> tuple[FirmTask, ...]:
    return tuple(
        FirmTask(
            id=activity.id,
            what=what,
            skill=skill_of(activity.code),
            choices=choices,
            machine=activity.machine if activity.machine in means.machines else "",
            lags=activity.lags,
            whole=not activity.splits_over_nights
            and min(choice.minutes for choice in choices) <= means.day_minutes,
            holds=(activity.hold,) if activity.hold else (),
        )
        for activity, what, choices in zip(made.activities, names(made.activities), made.choices, strict=True)
    )


def _held(tasks: tuple[FirmTask, ...], made: Network, holds: tuple[Hold, ...]) -> tuple[FirmTask, ...]:
    """Each hold of the takeoff at the first task that must wait for it; one of work that is not there is
    left out."""
    codes = {activity.id: activity.code for activity in made.activities}
    found = {task.id: task for task in tasks}
    for hold in holds:
        first = next((task.id for task in tasks if codes[task.id] in hold.before), None)
        if first is not None:
            text = f"{hold.who} settles before it begins: {hold.what}"
            found[first] = replace(found[first], holds=(*found[first].holds, text))
    return tuple(found.values())


def _without_waits(tasks: tuple[FirmTask, ...], made: Network, begins: int) -> tuple[FirmTask, ...]:
    """Tasks that people are at; the waits between them lead over what was taken out."""
    waits = {
        task.id: task for task, several in zip(tasks, made.choices, strict=True) if several[-1].people == 0
    }
    return tuple(_joined(task, waits, begins) for task in tasks if task.id not in waits)


def _joined(task: FirmTask, waits: dict[str, FirmTask], begins: int) -> FirmTask:
    lags: dict[str, Lag] = {}
    not_before, open_lags = task.not_before, list(task.lags)
    while open_lags:
        lag = open_lags.pop()
        wait = waits.get(lag.after)
        if wait is None:
            known = lags.get(lag.after)
            lags[lag.after] = lag if known is None else _both(known, lag)
            continue
        minutes = lag.least_minutes + wait.choices[-1].minutes
        open_lags += [
            replace(one, least_minutes=one.least_minutes + minutes, greatest_minutes=None, why=lag.why)
            for one in wait.lags
        ]
        not_before = max(not_before or 0, begins + minutes)
    return replace(task, lags=tuple(lags[after] for after in sorted(lags)), not_before=not_before)


def _both(a: Lag, b: Lag) -> Lag:
    """One wait that keeps two."""
    greatest = [lag.greatest_minutes for lag in (a, b) if lag.greatest_minutes is not None]
    longer = a if a.least_minutes >= b.least_minutes else b
    return replace(longer, greatest_minutes=min(greatest, default=None))


def _in_order(tasks: tuple[FirmTask, ...]) -> tuple[FirmTask, ...]:
    """Each after what it waits for, else as they were."""
    ordered: list[FirmTask] = []
    placed: set[str] = set()
    left = list(tasks)
    while left:
        ready = next(task for task in left if all(lag.after in placed for lag in task.lags))
        ordered.append(ready)
        placed.add(ready.id)
        left.remove(ready)
    return tuple(ordered)
