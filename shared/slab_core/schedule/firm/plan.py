"""The plan of the whole firm: searched, with bounds, and explained."""

from __future__ import annotations

import numpy as np

from slab_core.errors import Problem, refuse
from slab_core.numerics.budget import Budget
from slab_core.schedule.firm.arrays import Arrays, arrays_of
from slab_core.schedule.firm.bounds import least_late, least_paid
from slab_core.schedule.firm.model import Firm, FirmPlan, Visit
from slab_core.schedule.firm.search import Anchors, FirmSearch, Found
from slab_core.schedule.firm.slack import latest_starts
from slab_core.schedule.firm.wander import wander_from
from slab_core.schedule.firm.words import chain

FIRST_DAYS, MOST_DAYS = 180, 1500

MOST_WINDOWS = 2_000_000
"""Crews times sites times days that are compiled at most: some hundred bytes each."""


def plan_firm(*, firm: Firm, from_minute: int, budget: Budget, seed: int = 1) -> FirmPlan:
    """Crew, machine, people and time for every task: promised dates first, then person-minutes paid, then
    early finishes.

    Raises
    ------
    InputRefused
        for what can never be planned (see `check_firm`), or when calendars hold too little work.
    Stopped
        when the budget says so.
    """
    if not firm.jobs:
        return _empty()
    days = FIRST_DAYS
    while days <= most_days(firm):
        arrays = arrays_of(firm=firm, from_minute=from_minute, days=days)
        search = FirmSearch(arrays=arrays, anchors=nothing_kept(arrays))
        if search.first() is not None:
            late = least_late(arrays, search.anchors.fixed) or 0
            wander_from(search=search, budget=budget, seed=seed, late=late, paid=least_paid(arrays))
            return told(arrays=arrays, search=search)
        days *= 2
    raise too_short(days // 2)


def most_days(firm: Firm) -> int:
    """How many days of calendars may be looked at."""
    pairs = max(1, len(firm.crews) * len(firm.sites))
    return max(FIRST_DAYS, min(MOST_DAYS, MOST_WINDOWS // pairs))


def nothing_kept(arrays: Arrays) -> Anchors:
    """No plan to hold on to."""
    nothing = np.full((arrays.tasks, 4), -1, dtype=np.int64)
    return Anchors(before=nothing, fixed=nothing, right=np.zeros(len(arrays.firm.jobs), dtype=bool))


def too_short(days: int) -> Exception:
    """The refusal of calendars with too little work in them."""
    return refuse(
        code="firm-calendar-too-short",
        detail=f"the jobs do not fit into the first {days} days of crews' calendars and sites' hours; a task "
        "that must end on its day may be longer than any day, less the way there and back",
        pointer="/jobs",
    )


def told(*, arrays: Arrays, search: FirmSearch) -> FirmPlan:
    """The best plan of a search, with bounds, gap and reasons."""
    found = search.best
    assert found is not None  # a search that found nothing is refused before
    late = least_late(arrays, search.anchors.fixed) or 0
    paid = least_paid(arrays)
    return FirmPlan(
        visits=_visits(arrays, found),
        late_minutes=found.late,
        late_bound=late,
        paid_minutes=found.paid,
        paid_bound=paid,
        gap=_gap(found.late, late) if found.late > late else _gap(found.paid, paid),
        overdue_minutes=found.overdue,
        work_minutes=_work(arrays, found),
        travel_minutes=found.travelled,
        chains=tuple(chain(arrays=arrays, plan=found.plan, job=job) for job in _told_of(arrays, found)),
        latest_start_minute=latest_starts(arrays=arrays, plan=found.plan, fixed=search.anchors.fixed),
        problems=_overdue(arrays, found),
    )


def _gap(value: int, bound: int) -> float:
    return (value - bound) / value if value > 0 else 0.0


def _visits(arrays: Arrays, found: Found) -> tuple[Visit, ...]:
    starts, ends, choice, machine, people = found.plan[:5]
    jobs, firm = arrays.firm.jobs, arrays.firm
    return tuple(
        Visit(
            job=jobs[j].id,
            task=jobs[j].tasks[t].id,
            crew=firm.crews[arrays.choices[1][choice[n]]].id,
            people=int(people[n]),
            machine=firm.machines[machine[n]].id if machine[n] >= 0 else "",
            start_minute=int(starts[n]),
            end_minute=int(ends[n]),
        )
        for n, (j, t) in enumerate(arrays.rows)
    )


def _work(arrays: Arrays, found: Found) -> int:
    choice = found.plan[2]
    return int((arrays.choices[2][choice] * arrays.choices[3][choice]).sum())


def _told_of(arrays: Arrays, found: Found) -> list[int]:
    """Late jobs, latest first; without any the one that is done last."""
    pointers, promised, _ = arrays.jobs
    finishes = np.maximum.reduceat(found.plan[1][: arrays.tasks], pointers[:-1])
    late = np.where(promised >= 0, finishes - promised, 0)
    order = [int(j) for j in np.argsort(-late, kind="stable") if late[j] > 0]
    return order or [int(np.argmax(finishes))]


def _overdue(arrays: Arrays, found: Found) -> tuple[Problem, ...]:
    starts, ends, problems = found.plan[0], found.plan[1], list[Problem]()
    for n, (j, t) in enumerate(arrays.rows):
        job = arrays.firm.jobs[j]
        place = {task.id: arrays.jobs[0][j] + m for m, task in enumerate(job.tasks)}
        for m, lag in enumerate(job.tasks[t].lags):
            over = int(starts[n] - ends[place[lag.after]]) - (lag.greatest_minutes or 0)
            if lag.greatest_minutes is not None and over > 0:
                detail = (
                    f"task {job.tasks[t].id!r} of job {job.id!r} must start within "
                    f"{(lag.greatest_minutes or 0) / 60:.3g} h of the end of {lag.after!r} and starts "
                    f"{over / 60:.3g} h too late; a crew or a shift in between, or another product, would do"
                )
                pointer = f"/jobs/{j}/tasks/{t}/lags/{m}"
                problems.append(Problem(code="firm-lag-cannot-be-kept", detail=detail, pointer=pointer))
    return tuple(problems)


def _empty() -> FirmPlan:
    return FirmPlan(
        visits=(),
        late_minutes=0,
        late_bound=0,
        paid_minutes=0,
        paid_bound=0,
        gap=0.0,
        overdue_minutes=0,
        work_minutes=0,
        travel_minutes=0,
        chains=(),
    )
