"""The firm's plan after something has slipped, and what one more job would do to it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from slab_core.errors import refuse
from slab_core.numerics.budget import Budget
from slab_core.schedule.firm.arrays import Arrays, arrays_of
from slab_core.schedule.firm.asked import Move, Replan, WhatIf
from slab_core.schedule.firm.bounds import least_late
from slab_core.schedule.firm.kernels import Flags, Whole, still_right
from slab_core.schedule.firm.model import Firm, FirmJob, Visit
from slab_core.schedule.firm.plan import FIRST_DAYS, most_days, told, too_short
from slab_core.schedule.firm.search import AS_IT_WAS, FREE, NO_EARLIER, Anchors, FirmSearch, Genes

LATEST = 2**62
"""After any minute."""

AS_MUCH = 1440
"""Minutes later that its crew of before may end for another one not to be asked."""


def replan_firm(
    *,
    firm: Firm,
    before: tuple[Visit, ...],
    now: int,
    budget: Budget,
    free: frozenset[str] = frozenset(),
    seed: int = 1,
) -> Replan:
    """A plan for the firm as it is now that holds on to a plan `before`.

    Visits that started before `now` stand as they are given, with the end that they are thought to have. Of
    all other plans the best breaks promises least, then moves least (minutes of all visits, and four hours
    more for each one that moves or that another crew, other people or another machine come to), then costs
    least. Jobs in `free` may be planned anew and do not count as moved. Tasks without a visit are new.

    Raises
    ------
    InputRefused
        for visits of unknown tasks, crews or machines, and as `plan_firm` does.
    Stopped
        when the budget says so.
    """
    search = _searched(firm, before, now, free, steady=False)
    _better(search, budget, seed)
    return _told(firm, search, before)


def _searched(
    firm: Firm, before: tuple[Visit, ...], now: int, free: frozenset[str], *, steady: bool
) -> FirmSearch:
    """A search with its first plans, on as many days of calendars as they need."""
    from_minute = min([now, *(visit.start_minute for visit in before)])
    days = FIRST_DAYS
    while days <= most_days(firm):
        arrays = arrays_of(firm=firm, from_minute=from_minute, days=days, now=now)
        search = FirmSearch(arrays=arrays, anchors=_anchors(arrays, before, now, free))
        _hold_on(search, steady=steady)
        if search.best is not None:
            return search
        days *= 2
    raise too_short(days // 2)


def what_if(
    *, firm: Firm, before: tuple[Visit, ...], job: FirmJob, now: int, budget: Budget, seed: int = 1
) -> WhatIf:
    """What one more job would do: first with every visit of `before` where it is, then, if its promise is
    broken so, with others moved as little as helps. Its site belongs to the firm already.

    Raises
    ------
    InputRefused
        as `replan_firm` does.
    Stopped
        when the budget says so.
    """
    larger = replace(firm, jobs=(*firm.jobs, job))
    alone = _told(larger, _searched(larger, before, now, frozenset(), steady=True), before)
    visits = tuple(visit for visit in alone.plan.visits if visit.job == job.id)
    finish = max(visit.end_minute for visit in visits)
    broken = job.promised is not None and finish > job.promised
    return WhatIf(
        first_start_minute=min(visit.start_minute for visit in visits),
        finish_minute=finish,
        visits=visits,
        instead=replan_firm(firm=larger, before=before, now=now, budget=budget, seed=seed)
        if broken
        else None,
        problems=tuple(
            problem
            for problem in alone.plan.problems
            if problem.pointer.startswith(f"/jobs/{len(firm.jobs)}/")
        ),
    )


def _anchors(arrays: Arrays, before: tuple[Visit, ...], now: int, free: frozenset[str]) -> Anchors:
    was = np.full((arrays.tasks, 4), -1, dtype=np.int64)
    fixed = was.copy()
    position = arrays.position()
    for n, visit in enumerate(before):
        task = position.get((visit.job, visit.task))
        if task is None:
            raise _unknown(n, f"job {visit.job!r} has no task {visit.task!r}")
        begun = visit.start_minute < now
        if begun or visit.job not in free:
            (fixed if begun else was)[task] = _row(arrays, task, n, visit, begun=begun)
            was[task] = fixed[task] if begun else was[task]
    return Anchors(before=was, fixed=fixed, right=_right(arrays, was, fixed))


def _row(arrays: Arrays, task: int, n: int, visit: Visit, *, begun: bool) -> tuple[int, int, int, int]:
    """Start, end, choice and machine of a visit; a choice of -1 when there is no such way any more, a machine
    of -1 when it is gone."""
    firm, (pointers, crews, people, _) = arrays.firm, arrays.choices
    machines = {machine.id: m for m, machine in enumerate(firm.machines)} | {"": -1}
    known = visit.crew in {crew.id for crew in firm.crews}
    if begun and not (known and visit.machine in machines):
        raise _unknown(n, f"there is no crew {visit.crew!r} with the machine {visit.machine!r}")
    if not known:
        return (-1, -1, -1, -1)
    ways = [
        choice
        for choice in range(pointers[task], pointers[task + 1])
        if firm.crews[crews[choice]].id == visit.crew and people[choice] == visit.people
    ]
    if begun and not ways:
        detail = (
            f"{visit.people} of crew {visit.crew!r} are no way to do task {visit.task!r} of {visit.job!r}"
        )
        raise _unknown(n, detail)
    choice = ways[0] if ways else -1
    return visit.start_minute, visit.end_minute, choice, machines.get(visit.machine, -1)


def _unknown(n: int, detail: str) -> Exception:
    return refuse(code="firm-visit-unknown", detail=detail, pointer=f"/before/{n}")


def _hold_on(search: FirmSearch, *, steady: bool) -> None:
    """Every job that still can be stays as it was, and the others go around them; then, unless `steady`, all
    go by the order of before and nothing begins earlier."""
    arrays, before = search.arrays, search.anchors.before
    count = len(arrays.firm.jobs)
    starts = np.where(before[:, 2] >= 0, before[:, 0], LATEST)
    firsts = np.minimum.reduceat(starts, arrays.jobs[0][:-1])
    due = np.where(arrays.jobs[1] >= 0, arrays.jobs[1], LATEST)
    any_crew, thrift = np.full(arrays.tasks, -1), np.zeros(arrays.tasks, dtype=np.int64)
    for keys in (firsts, due):
        order = np.argsort(keys, kind="stable")
        for loose in (NO_EARLIER, FREE):
            held = np.where(search.anchors.right, AS_IT_WAS, loose)
            search.try_genes(Genes(order=order, crews=any_crew, apart=AS_MUCH, held=held, thrift=thrift))
        if not steady:
            held = np.full(count, NO_EARLIER)
            search.try_genes(Genes(order=order, crews=any_crew, apart=AS_MUCH, held=held, thrift=thrift))


def _right(arrays: Arrays, before: Whole, fixed: Whole) -> Flags:
    """Jobs that may stay in everything, looked for again whenever one that may not has made room."""
    known = before[:, 2] >= 0
    right: Flags = np.logical_and.reduceat(known, arrays.jobs[0][:-1])
    order = np.argsort(before[:, 0], kind="stable")
    plan, many = arrays.new_plan(), -1
    while many != int(right.sum()):
        many = int(right.sum())
        still_right(
            plan,
            arrays.absences,
            before,
            fixed,
            order,
            arrays.hours,
            arrays.choices,
            arrays.lags,
            arrays.facts,
            arrays.jobs,
            right,
        )
    return right


def _better(search: FirmSearch, budget: Budget, seed: int) -> None:
    """Search on only while a promise is broken that might be kept, or something has moved."""
    best, least = search.best, least_late(search.arrays, search.anchors.fixed)
    if best is not None and (best.late > (least or 0) or best.moved > 0 or best.overdue > 0):
        search.anneal(budget=budget, seed=seed, good_enough=0.0)


def _told(firm: Firm, search: FirmSearch, before: tuple[Visit, ...]) -> Replan:
    plan = told(arrays=search.arrays, search=search)
    new = {(visit.job, visit.task): visit for visit in plan.visits}
    moves = []
    for old in before:
        visit = new[old.job, old.task]
        if _told_apart(visit) != _told_apart(old):
            moves.append(
                Move(
                    job=old.job,
                    task=old.task,
                    crew_before=old.crew,
                    crew=visit.crew,
                    start_before_minute=old.start_minute,
                    start_minute=visit.start_minute,
                    people_before=old.people,
                    people=visit.people,
                    machine_before=old.machine,
                    machine=visit.machine,
                )
            )
    late_before, late = _late(firm, before), _late(firm, plan.visits)
    newly = tuple(job.id for job in firm.jobs if job.id in late - late_before)
    return Replan(plan=plan, moves=tuple(moves), newly_late=newly)


def _told_apart(visit: Visit) -> tuple[int, str, int, str]:
    """What of a visit somebody has to be told when it changes."""
    return visit.start_minute, visit.crew, visit.people, visit.machine


def _late(firm: Firm, visits: tuple[Visit, ...]) -> set[str]:
    promised = {job.id: job.promised for job in firm.jobs}
    return {
        visit.job
        for visit in visits
        if (due := promised.get(visit.job)) is not None and visit.end_minute > due
    }
