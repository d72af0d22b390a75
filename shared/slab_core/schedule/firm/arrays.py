"""The firm as arrays for the compiled plans, with everything checked that would make a plan impossible."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from slab_core.errors import refuse
from slab_core.schedule.calendars import Window
from slab_core.schedule.firm.check import check_firm
from slab_core.schedule.firm.kernels import Choices, Facts, Hours, Jobs, Lags, Plan, Whole
from slab_core.schedule.firm.model import Firm
from slab_core.schedule.firm.windows import at_site, crew_windows, site_windows

FAR = 10**7
"""Minutes between places that nothing joins."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Arrays:
    """What the kernels take; `rows` are tasks as (job, task) by position."""

    firm: Firm
    rows: tuple[tuple[int, int], ...]
    hours: Hours
    choices: Choices
    lags: Lags
    facts: Facts
    jobs: Jobs
    absences: Whole

    @property
    def tasks(self) -> int:
        """How many tasks there are."""
        return len(self.rows)

    def position(self) -> dict[tuple[str, str], int]:
        """Positions by the ids of job and task."""
        jobs = self.firm.jobs
        return {(jobs[j].id, jobs[j].tasks[t].id): n for n, (j, t) in enumerate(self.rows)}

    def new_plan(self) -> Plan:
        """A plan with nothing in it but absences."""
        away = [absence for crew in self.firm.crews for absence in crew.absences]
        ids, rows = self.tasks + len(away), len(self.firm.crews) + len(self.firm.machines)
        starts, ends, people = _zeros(ids), _zeros(ids), _zeros(ids)
        starts[self.tasks :] = [absence.start_minute for absence in away]
        ends[self.tasks :] = [absence.end_minute for absence in away]
        people[self.tasks :] = [absence.people for absence in away]
        choice, machine = np.full(self.tasks, -1), np.full(self.tasks, -1)
        placed, reach = np.zeros((rows, ids), dtype=np.int64), np.zeros((rows, ids), dtype=np.int64)
        return starts, ends, choice, machine, people, placed, _zeros(rows), reach


def arrays_of(*, firm: Firm, from_minute: int, days: int, now: int | None = None) -> Arrays:
    """Arrays with the hours of so many days; nothing that has not begun begins before `now`.

    Raises
    ------
    InputRefused
        naming the job, task, crew or site for what can never be planned.
    """
    check_firm(firm)
    rows = tuple((j, t) for j, job in enumerate(firm.jobs) for t in range(len(job.tasks)))
    travel, homes = travel_of(firm), _homes(firm)
    return Arrays(
        firm=firm,
        rows=rows,
        hours=_hours(firm, travel, homes, from_minute, days),
        choices=_choices(firm, rows),
        lags=_lags(firm, rows),
        facts=_facts(firm, rows, travel, homes, from_minute if now is None else now),
        jobs=_jobs(firm, rows),
        absences=_whole(c for c, crew in enumerate(firm.crews) for _ in crew.absences),
    )


def travel_of(firm: Firm) -> Whole:
    """Minutes between places (places, places) by the shortest way over others; the yard is the last place.

    Raises
    ------
    InputRefused
        for a site that travel names, or a home, that no way leads to from the yard.
    """
    place = {id: n for n, id in enumerate(firm.places())}
    minutes = np.full((len(place), len(place)), FAR, dtype=np.int64)
    np.fill_diagonal(minutes, 0)
    for (a, b), minute in firm.travel.items():
        minutes[place[a], place[b]] = minute
        if (b, a) not in firm.travel:
            minutes[place[b], place[a]] = minute
    named = {id for pair in firm.travel for id in pair}
    unnamed = [place[site.id] for site in firm.sites if site.id not in named]
    minutes[unnamed, -1] = minutes[-1, unnamed] = 0
    for k in range(len(place)):
        minutes = np.minimum(minutes, minutes[:, k : k + 1] + minutes[k : k + 1, :])
    for id, n in place.items():
        if minutes[-1, n] >= FAR or minutes[n, -1] >= FAR:
            raise refuse(
                code="firm-travel",
                detail=f"no listed way joins {id!r} and the yard; list one from the yard or from a place "
                "that is joined",
                pointer="/travel",
            )
    return minutes


def _homes(firm: Firm) -> Whole:
    """Each crew's home by its place."""
    places = firm.places()
    return _whole(places.index(crew.home) for crew in firm.crews)


def _hours(firm: Firm, travel: Whole, homes: Whole, from_minute: int, days: int) -> Hours:
    open_hours = [site_windows(site=site, from_minute=from_minute, days=days) for site in firm.sites]
    found: list[tuple[Window, ...]] = []
    nobody_there: list[tuple[Window, ...]] = [()] * (len(travel) - 1 - len(firm.sites))
    for crew, home in zip(firm.crews, homes, strict=True):
        shifts = crew_windows(crew=crew, from_minute=from_minute, days=days)
        found += [
            at_site(
                shifts=shifts,
                hours=open_hours[s],
                blocked=frozenset(d.toordinal() for d in site.blocked)
                if site.allowed is None
                else frozenset(),
                there=int(travel[home, s]),
                back=int(travel[s, home]),
            )
            for s, site in enumerate(firm.sites)
        ]
        found += [*nobody_there, shifts]
    flat = [window for windows in found for window in windows]
    return (
        _pointers(len(windows) for windows in found),
        _whole(window.start for window in flat),
        _whole(window.end for window in flat),
        _whole(window.day.toordinal() for window in flat),
    )


def _choices(firm: Firm, rows: tuple[tuple[int, int], ...]) -> Choices:
    """For each task every crew with the skill, in every number of people it has, most people first."""
    found: list[list[tuple[int, int, int]]] = []
    for j, t in rows:
        task = firm.jobs[j].tasks[t]
        found.append(
            [
                (c, choice.people, choice.minutes)
                for choice in sorted(task.choices, key=lambda one: -one.people)
                for c, crew in enumerate(firm.crews)
                if task.skill in crew.skills and choice.people <= crew.people
            ]
        )
    flat = [one for several in found for one in several]
    crews, people, minutes = (_whole(one[n] for one in flat) for n in range(3))
    return _pointers(len(several) for several in found), crews, people, minutes


def _lags(firm: Firm, rows: tuple[tuple[int, int], ...]) -> Lags:
    place = {(j, firm.jobs[j].tasks[t].id): n for n, (j, t) in enumerate(rows)}
    lags = [(j, lag) for j, t in rows for lag in firm.jobs[j].tasks[t].lags]
    return (
        _pointers(len(firm.jobs[j].tasks[t].lags) for j, t in rows),
        _whole(place[j, lag.after] for j, lag in lags),
        _whole(lag.least_minutes for _, lag in lags),
        _whole(-1 if lag.greatest_minutes is None else lag.greatest_minutes for _, lag in lags),
    )


def _facts(firm: Firm, rows: tuple[tuple[int, int], ...], travel: Whole, homes: Whole, now: int) -> Facts:
    site = {site.id: n for n, site in enumerate(firm.sites)}
    kinds = {kind: n for n, kind in enumerate(sorted({machine.kind for machine in firm.machines}))}
    tasks = [(firm.jobs[j], firm.jobs[j].tasks[t]) for j, t in rows]
    away = sum(len(crew.absences) for crew in firm.crews)
    return (
        _whole([*(site[job.site] for job, _ in tasks), *[-1] * away]),
        _whole(kinds[task.machine] if task.machine else -1 for _, task in tasks),
        np.array([task.whole for _, task in tasks], dtype=bool),
        _whole(max(now, job.earliest, task.not_before or 0) for job, task in tasks),
        _whole(crew.people for crew in firm.crews),
        _whole(kinds[machine.kind] for machine in firm.machines),
        travel,
        travel.max(keepdims=True).ravel(),
        homes,
    )


def _jobs(firm: Firm, rows: tuple[tuple[int, int], ...]) -> Jobs:
    promised = _whole(-1 if job.promised is None else job.promised for job in firm.jobs)
    return _pointers(len(job.tasks) for job in firm.jobs), promised, _whole(j for j, _ in rows)


def _whole(values: Iterable[int]) -> Whole:
    return np.array(list(values), dtype=np.int64)


def _zeros(count: int) -> Whole:
    return np.zeros(count, dtype=np.int64)


def _pointers(counts: Iterable[int]) -> Whole:
    return np.concatenate([[0], np.cumsum(_whole(counts))]).astype(np.int64)
