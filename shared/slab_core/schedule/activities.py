"""Tasks of the takeoff turned into activities with people, minutes and waits."""

from dataclasses import dataclass, replace

from slab_core.errors import Problem
from slab_core.materials.rates_model import Rates
from slab_core.schedule.drying import Products
from slab_core.schedule.links import lags_of
from slab_core.schedule.model import Activity, Lag
from slab_core.schedule.order import AFTER
from slab_core.schedule.people import Choice, choices
from slab_core.schedule.pouring import poured_by_day
from slab_core.schedule.pre_cutting import cut_in_stacks
from slab_core.schedule.priming import primed_by_day
from slab_core.schedule.taping import with_tape_off
from slab_core.takeoff.model import Task

HOLDS = {
    "moisture-read": "the estimator reads the moisture result and signs that the adhesive suits it",
    "moisture-reread": "the estimator reads the moisture result again before adhesive is opened",
    "verify": "the crew lead signs the flatness check before any adhesive is opened",
    "hand-over": "the customer walks through and signs",
}
READ_AS = {
    "moisture-test": ("moisture-read", "Read the moisture test"),
    "moisture-retest": ("moisture-reread", "Read the moisture test taken again"),
}
"""What a moisture test's reading is called."""

WHOLE = frozenset({"prime", "pour", "spread", "hand-over"})
"""Work that, once begun, is finished the same day: its material sets, or somebody has come for it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """The activities of a job, in the order of the tasks, and what was noticed on the way.

    `choices` holds for each activity how many people it may have; the activity itself says the most.
    """

    activities: tuple[Activity, ...]
    choices: tuple[tuple[Choice, ...], ...]
    problems: tuple[Problem, ...]


def network(*, tasks: tuple[Task, ...], rates: Rates, products: Products, day_minutes: int) -> Network:
    """Activities with durations, people, machines and lags.

    `day_minutes` are those of the calendar's longest day.
    """
    full = _divided(tasks=tasks, rates=rates, day_minutes=day_minutes)
    full = _with_reading(tasks=full, reading_ph=products.waits.reading_ph)
    full = with_tape_off(tasks=full, share=products.waits.tape_off_share)
    ids = _ids(tasks=full)
    lags = lags_of(tasks=full, ids=ids, products=products)
    people = tuple(choices(task=task, crew=rates.people) for task in full)
    made = tuple(
        _activity(task=task, id=id, lags=waits, choice=several[-1])
        for task, id, waits, several in zip(full, ids, lags, people, strict=True)
    )
    problems = (*_unknown_codes(tasks=full), *_small_crew(tasks=full, rates=rates))
    return Network(activities=made, choices=people, problems=problems)


def _divided(*, tasks: tuple[Task, ...], rates: Rates, day_minutes: int) -> tuple[Task, ...]:
    """The tasks with what is too much for a day in parts of its own."""
    poured = poured_by_day(tasks=tasks, rates=rates)
    primed = primed_by_day(tasks=poured, rates=rates, day_minutes=day_minutes)
    return cut_in_stacks(tasks=primed, crew=rates.people, day_minutes=day_minutes)


def _activity(*, task: Task, id: str, lags: tuple[Lag, ...], choice: Choice) -> Activity:
    return Activity(
        id=id,
        code=task.code,
        what=task.what,
        floor=task.floor,
        phase=task.phase,
        people=choice.people,
        work_minutes=choice.minutes,
        person_hours=task.person_hours,
        machine=task.machine,
        lags=lags,
        hold=HOLDS.get(task.code, ""),
        splits_over_nights=task.code not in WHOLE,
        bags=task.bags,
        free=task.free,
    )


def _with_reading(*, tasks: tuple[Task, ...], reading_ph: float) -> tuple[Task, ...]:
    """A moisture test is placed, left alone and read: two visits out of one task's hours."""
    full: list[Task] = []
    for task in tasks:
        if task.code not in READ_AS:
            full.append(task)
            continue
        reading = min(reading_ph, task.person_hours / 2)
        full.append(replace(task, person_hours=task.person_hours - reading))
        code, what = READ_AS[task.code]
        full.append(replace(task, code=code, what=what, person_hours=reading, most_people=1))
    return tuple(full)


def _ids(*, tasks: tuple[Task, ...]) -> tuple[str, ...]:
    ids: list[str] = []
    for task in tasks:
        parts = [task.floor or "job", str(task.phase), task.code, task.part]
        name = "/".join(part for part in parts if part)
        same = sum(1 for id in ids if id == name or id.startswith(f"{name}#"))
        ids.append(f"{name}#{same + 1}" if same else name)
    return tuple(ids)


def _unknown_codes(*, tasks: tuple[Task, ...]) -> tuple[Problem, ...]:
    unknown = sorted({task.code for task in tasks} - AFTER.keys())
    detail = "the order of work does not know {}; it is planned between the flatness check and the clean-up"
    return tuple(Problem(code="task-order-unknown", detail=detail.format(code)) for code in unknown)


def _small_crew(*, tasks: tuple[Task, ...], rates: Rates) -> tuple[Problem, ...]:
    needs: dict[str, int] = {}
    for task in tasks:
        if task.least_people > rates.people:
            needs[task.what] = max(task.least_people, needs.get(task.what, 0))
    detail = "“{}” takes at least {} people and the crew has {}; it is planned with the crew and takes longer"
    return tuple(
        Problem(
            code="crew-too-small", detail=detail.format(what, least, rates.people), pointer="/rates/people"
        )
        for what, least in sorted(needs.items())
    )
