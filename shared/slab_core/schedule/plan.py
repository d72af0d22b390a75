"""The schedule stage: a stand-alone plan of one crew on one calendar."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime

from slab_core.errors import Problem, refuse
from slab_core.materials.model import Adhesive, Climate, Compound, Patch, Primer
from slab_core.materials.rates_model import Rates
from slab_core.numerics.budget import Budget
from slab_core.schedule.activities import Network, network
from slab_core.schedule.axis import SLOT_MINUTES, Axis, axis_of
from slab_core.schedule.calendars import utc_minute, windows
from slab_core.schedule.critical import critical_chain
from slab_core.schedule.drying import Products
from slab_core.schedule.grid import Answer, Link, Mode, Places, Puzzle, overdue, puzzle_of
from slab_core.schedule.holds import placed_holds
from slab_core.schedule.model import STARTER_WAITS, Activity, Calendar, Placed, Schedule, Waits
from slab_core.schedule.names import names
from slab_core.schedule.people import Choice
from slab_core.schedule.purchases import purchases
from slab_core.schedule.resting import NOTHING_RESTS, Resting
from slab_core.schedule.search import search
from slab_core.schedule.serial import AxisTooShort
from slab_core.takeoff.model import Takeoff

FIRST_DAYS = 42
MOST_DAYS = 1500


def schedule(
    *,
    takeoff: Takeoff,
    rates: Rates,
    climate: Climate,
    compound: Compound,
    primer: Primer,
    adhesive: Adhesive,
    calendar: Calendar,
    earliest_start: datetime,
    budget: Budget,
    waits: Waits = STARTER_WAITS,
    patch: Patch = Patch(),
    lead_days: Mapping[str, int] | None = None,
    resting: Resting = NOTHING_RESTS,
) -> Schedule:
    """When every task of the takeoff runs, with drying between them.

    Work happens within the calendar and with `rates.people`; waits run through nights and weekends. The
    plan ends as early as the solver found, `finish_bound_minute` is what it proved. On no day are more bags
    poured than the rates have of screeded and free pours; a day with both has a share of each. A greatest
    lag that cannot be kept is reported and exceeded as little as possible. Purchases are ordered
    `lead_days` before they are needed, by product id. What is `resting` was poured before and dries on from
    the start.

    Raises
    ------
    InputRefused
        for an unknown time zone, a start without an offset, a crew of nobody, or a calendar without enough
        work in it.
    Stopped
        when the budget says so.
    """
    if rates.people < 1:
        raise refuse(code="crew-empty", detail="the crew has nobody in it", pointer="/rates/people")
    products = Products(
        compound=compound, primer=primer, adhesive=adhesive, climate=climate, waits=waits, patch=patch,
        rested_hours=resting.rested_hours,
    )  # fmt: skip
    start = utc_minute(instant=earliest_start)
    day = axis_of(windows=windows(calendar=calendar, from_minute=start, days=FIRST_DAYS)).longest_day()
    tasks = (*resting.tasks(), *takeoff.tasks) if takeoff.tasks else ()
    work = network(tasks=tasks, rates=rates, products=products, day_minutes=day * SLOT_MINUTES)
    if not work.activities:
        return _empty(alternate=takeoff.alternate, start=start, problems=work.problems)
    axis, puzzle, answer = _placed(work, rates, calendar, start, budget)
    made = _result(alternate=takeoff.alternate, work=work, axis=axis, puzzle=puzzle, answer=answer)
    bought = purchases(takeoff=takeoff, schedule=made, calendar=calendar, lead_days=lead_days or {})
    held = placed_holds(holds=takeoff.holds, activities=made.activities, placed=made.placed)
    return replace(made, purchases=bought, holds=held)


def _placed(
    work: Network, rates: Rates, calendar: Calendar, start: int, budget: Budget
) -> tuple[Axis, Puzzle, Answer]:
    days = FIRST_DAYS
    while days <= MOST_DAYS:
        axis = axis_of(windows=windows(calendar=calendar, from_minute=start, days=days))
        puzzle = puzzle_of(
            activities=work.activities,
            choices=work.choices,
            crew=rates.people,
            longest_day=axis.longest_day(),
            rates=rates,
        )
        try:
            if axis.slots:
                return axis, puzzle, search(puzzle=puzzle, axis=axis, budget=budget)
        except AxisTooShort:
            pass  # the work runs past the last day that was compiled
        days *= 2
    raise refuse(
        code="calendar-too-short",
        detail=f"the work does not fit into the first {days // 2} days of the calendar; allow more shifts",
        pointer="/calendar/shifts",
    )


def _result(*, alternate: str, work: Network, axis: Axis, puzzle: Puzzle, answer: Answer) -> Schedule:
    places = answer.places
    first = axis.day_of(min(places.starts))
    activities = tuple(map(_staffed, work.activities, work.choices, places.modes))
    placed = tuple(_place(a.id, places, i, axis, first) for i, a in enumerate(activities))
    late = _late(activities, puzzle, axis, places)
    busy = [p for p, a in zip(placed, activities, strict=True) if a.people > 0]
    pours = [p for p, a in zip(placed, activities, strict=True) if a.code == "pour"]
    return Schedule(
        alternate=alternate,
        activities=activities,
        placed=placed,
        start_minute=min(p.start_minute for p in placed),
        finish_minute=max(p.end_minute for p in placed),
        finish_bound_minute=axis.end_minute(answer.bound),
        status="lag-violated" if late else "optimal" if answer.optimal else "feasible",
        working_days=max(p.last_day for p in placed),
        pour_days=len(_days(pours)),
        site_days=len(_days(busy)),
        person_hours=sum(a.person_hours for a in activities),
        critical=critical_chain(activities=activities, puzzle=puzzle, axis=axis, places=places),
        problems=(*work.problems, *_too_long(activities, puzzle), *late),
    )


def _staffed(activity: Activity, choices: tuple[Choice, ...], mode: Mode) -> Activity:
    """The activity with the people it has got."""
    choice = next(choice for choice in choices if choice.people == mode.people)
    return replace(activity, people=choice.people, work_minutes=choice.minutes)


def _place(id: str, places: Places, index: int, axis: Axis, first_day: int) -> Placed:
    start, end = places.starts[index], places.end(index)
    return Placed(
        activity=id,
        start_minute=axis.start_minute(start),
        end_minute=axis.end_minute(end),
        first_day=axis.day_of(start) - first_day + 1,
        last_day=axis.day_of(end - 1) - first_day + 1,
    )


def _days(placed: list[Placed]) -> set[int]:
    return {day for p in placed for day in range(p.first_day, p.last_day + 1)}


def _too_long(activities: tuple[Activity, ...], puzzle: Puzzle) -> tuple[Problem, ...]:
    said = names(activities)
    return tuple(
        Problem(
            code="longer-than-a-day",
            detail=f"“{said[i]}” takes {activity.work_minutes / 60:.3g} h with {activity.people} people, "
            "longer than any day of the calendar; it is planned over a night; more people, smaller pours or "
            "longer shifts would do",
            pointer="/calendar/shifts",
        )
        for i, (activity, whole) in enumerate(zip(activities, puzzle.whole, strict=True))
        if not activity.splits_over_nights and not whole
    )


def _late(
    activities: tuple[Activity, ...], puzzle: Puzzle, axis: Axis, places: Places
) -> tuple[Problem, ...]:
    """One finding for all work of one code that follows the same activity too late: the worst of it."""
    worst: dict[tuple[int, str], list[tuple[int, Link]]] = {}
    for link in puzzle.links:
        excess = overdue(axis=axis, link=link, places=places)
        if excess:
            worst.setdefault((link.earlier, activities[link.later].code), []).append((excess, link))
    said = names(activities)
    return tuple(_too_late(said, sorted(late, key=lambda one: -one[0])) for late in worst.values())


def _too_late(said: tuple[str, ...], late: list[tuple[int, Link]]) -> Problem:
    excess, link = late[0]
    allowed, over = (link.greatest or 0) / 60, excess / 60
    more = f" (and {len(late) - 1} more like it, by less)" if len(late) > 1 else ""
    return Problem(
        code="lag-cannot-be-kept",
        detail=f"“{said[link.later]}” must start within {allowed:.3g} h of the end of “{said[link.earlier]}” "
        f"({link.why}) and starts {over:.3g} h too late{more}; a shift in between, a product that allows "
        f"{allowed + over:.3g} h, or doing “{said[link.earlier]}” again would do",
        pointer="/calendar/shifts",
    )


def _empty(*, alternate: str, start: int, problems: tuple[Problem, ...]) -> Schedule:
    return Schedule(
        alternate=alternate,
        activities=(),
        placed=(),
        start_minute=start,
        finish_minute=start,
        finish_bound_minute=start,
        status="optimal",
        working_days=0,
        pour_days=0,
        site_days=0,
        person_hours=0.0,
        critical=(),
        problems=problems,
    )
