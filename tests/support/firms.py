"""Invented firms for tests and benchmarks, and a check of their plans minute by minute."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from zoneinfo import ZoneInfo

import numpy as np

from slab_core.schedule.firm.model import Absence, Crew, Firm, FirmJob, Machine, Site, Task, Visit
from slab_core.schedule.model import Calendar, Lag
from slab_core.schedule.people import Choice

ZONE = "America/Chicago"
MONDAY = datetime(2026, 3, 2, tzinfo=ZoneInfo(ZONE))
"""The clocks change on the Sunday after it."""
HALVES = ((time(8), time(12)), (time(12, 30), time(17)))


def minute(moment: datetime) -> int:
    """UTC minutes since 1970."""
    return int(moment.timestamp()) // 60


START = minute(MONDAY)


def week(
    *,
    shifts: tuple[tuple[time, time], ...] = HALVES,
    days: int = 5,
    holidays: tuple[date, ...] = (),
    zone: str = ZONE,
) -> Calendar:
    """The same shifts on so many days of the week from Monday on."""
    rows = tuple((day, start, end) for day in range(days) for start, end in shifts)
    return Calendar(version="invented", time_zone=zone, shifts=rows, holidays=holidays)


def task(
    id: str,
    hours: float,
    people: tuple[int, int] = (1, 2),
    *,
    skill: str = "prepare",
    after: tuple[tuple[str, float, float | None], ...] = (),
    machine: str = "",
    whole: bool = False,
    not_before: int | None = None,
) -> Task:
    """So many person-hours for so many people; `after` lists tasks with least and greatest hours."""
    return Task(
        id=id,
        what=id.replace("-", " "),
        skill=skill,
        choices=tuple(
            Choice(people=n, minutes=max(1, round(hours * 60 / n))) for n in range(people[0], people[1] + 1)
        ),
        machine=machine,
        lags=tuple(
            Lag(
                after=other,
                least_minutes=round(least * 60),
                greatest_minutes=None if most is None else round(most * 60),
                why="drying" if least else "",
            )
            for other, least, most in after
        ),
        whole=whole,
        not_before=not_before,
    )


def floor_tasks(size: float, rng: np.random.Generator, begin: int) -> tuple[Task, ...]:
    """The work on one floor of `size` hundred square feet, in the trade's order (hours: common practice, no
    single source), with every number shaken by a fifth."""

    def hours(each: float) -> float:
        return float(each * size * rng.uniform(0.8, 1.2))

    delivery = begin + int(rng.integers(0, 5)) * 1440
    return (
        task("tear-out", hours(2.5) + 2, (2, 3)),
        task("survey", hours(0.6) + 1, (2, 2), after=(("tear-out", 0, None),)),
        task("grind", hours(2.0) + 1, (1, 2), machine="grinder", after=(("survey", 0, None),)),
        task("prime", hours(0.4) + 0.5, (1, 2), machine="vacuum", after=(("grind", 0, None),), whole=True),
        task("pour", min(hours(3.0) + 3, 20), (3, 4), after=(("prime", 2, 24),), whole=True),
        task("edges", hours(0.8) + 1, (1, 2), after=(("pour", 16, None),)),
        task("polish", hours(1.0) + 1, (1, 2), machine="grinder", after=(("edges", 12, None),)),
        task("verify", hours(0.3) + 0.5, (2, 2), after=(("polish", 0, None),)),
        task(
            "lay",
            hours(4.5) + 3,
            (2, 3),
            skill="floors",
            after=(("pour", 48, None), ("verify", 0, None)),
            not_before=delivery,
        ),
        task("trim", hours(1.5) + 2, (1, 2), skill="floors", after=(("lay", 12, None),)),
        task("hand-over", 1.0, (1, 1), skill="floors", after=(("trim", 24, None),)),
    )


def invented_firm(
    *, seed: int, crews: int = 6, jobs: int = 40, weeks: int = 12, own_homes: bool = False
) -> Firm:
    """Crews of three to five with holidays and absences, jobs over so many weeks at sites up to half an hour
    away, each promised with some days to spare, and fewer machines than crews. With `own_homes` every second
    crew sets out from a place of its own, and the one after it from the first site."""
    rng = np.random.default_rng(seed)
    begins = np.sort(rng.integers(0, 7 * (weeks - 4), jobs))
    sites = tuple(_site(n, rng, weeks) for n in range(jobs))
    skills = (frozenset({"prepare"}), frozenset({"floors", "prepare"}), frozenset({"floors"}))
    firm = Firm(
        crews=tuple(_crew(n, skills[n % 3], rng, weeks) for n in range(crews)),
        machines=tuple(
            Machine(id=f"{kind}-{n}", kind=kind)
            for kind, many in (("grinder", max(1, crews // 2)), ("vacuum", max(1, crews // 3)))
            for n in range(many)
        ),
        sites=sites,
        jobs=tuple(_job(n, int(begins[n]), rng) for n in range(jobs)),
        travel=_travel(rng, jobs),
    )
    return _with_homes(firm, rng) if own_homes else firm


def _with_homes(firm: Firm, rng: np.random.Generator) -> Firm:
    """Homes in some of the crews, each with ways of its own to every site, unlike there and back."""
    homes = [f"home-{n}" if n % 2 == 0 else ("site-0" if n % 4 == 1 else "") for n in range(len(firm.crews))]
    own = [(home, site.id) for home in homes if home.startswith("home") for site in firm.sites]
    ways = {way: int(rng.integers(5, 60)) for a, b in own for way in ((a, b), (b, a))}
    return replace(
        firm,
        crews=tuple(replace(crew, home=home) for crew, home in zip(firm.crews, homes, strict=True)),
        travel=firm.travel | ways,
    )


def _crew(n: int, skills: frozenset[str], rng: np.random.Generator, weeks: int) -> Crew:
    away = START + int(rng.integers(0, weeks * 7)) * 1440
    return Crew(
        id=f"crew-{n}",
        people=int(rng.integers(4, 6)) if "prepare" in skills else 3,
        skills=skills,
        calendar=week(holidays=(date(2026, 4, 3), date(2026, 5, 25))),
        absences=(Absence(start_minute=away, end_minute=away + 5 * 1440, people=1),),
    )


def _site(n: int, rng: np.random.Generator, weeks: int) -> Site:
    blocked = tuple((MONDAY + timedelta(days=int(d))).date() for d in rng.integers(0, weeks * 7, 3))
    hours = week(shifts=((time(9), time(16)),)) if n % 5 == 0 else None
    return Site(id=f"site-{n}", allowed=hours, blocked=blocked)


def _job(n: int, begin: int, rng: np.random.Generator) -> FirmJob:
    earliest = START + begin * 1440
    days = int(rng.integers(35, 57))
    tasks = floor_tasks(float(rng.uniform(3, 9)), rng, earliest)
    return FirmJob(
        id=f"job-{n}",
        site=f"site-{n}",
        tasks=tasks,
        earliest=earliest,
        promised=earliest + days * 1440,
    )


def _travel(rng: np.random.Generator, sites: int) -> dict[tuple[str, str], int]:
    """Straight ways in a town, 2 minutes a mile and 5 to park; the yard is in the middle."""
    places = np.vstack([rng.uniform(-10, 10, (sites, 2)), [[0.0, 0.0]]])
    names = [*(f"site-{n}" for n in range(sites)), ""]
    return {
        (names[a], names[b]): round(5 + 2 * float(np.hypot(*(places[a] - places[b]))))
        for a in range(sites + 1)
        for b in range(a)
    }


def broken(firm: Firm, visits: tuple[Visit, ...], *, travel: Callable[[str, str], int]) -> list[str]:
    """What a plan breaks, looked at minute by minute and pair by pair; nothing when it is right."""
    placed = {(visit.job, visit.task): visit for visit in visits}
    wanted = {(job.id, one.id) for job in firm.jobs for one in job.tasks}
    found = [] if wanted == placed.keys() and len(visits) == len(wanted) else ["not each task once"]
    site_of = {job.id: job.site for job in firm.jobs}
    for job in firm.jobs:
        for one in job.tasks:
            found += _of_task(firm, job, one, placed, travel)
    for a in visits:
        for b in visits:
            if a is b or (a.crew != b.crew and (a.machine != b.machine or not a.machine)):
                continue
            same = site_of[a.job] == site_of[b.job]
            there, back = travel(site_of[a.job], site_of[b.job]), travel(site_of[b.job], site_of[a.job])
            apart = a.end_minute + there <= b.start_minute or b.end_minute + back <= a.start_minute
            if not apart and (not same or (a.machine and a.machine == b.machine)):
                found.append(f"{a.crew} or {a.machine} is in two places: {a} and {b}")
    return found + _crowds(firm, visits)


def _crowds(firm: Firm, visits: tuple[Visit, ...]) -> list[str]:
    """No more people of a crew at once than are there."""
    found = []
    for crew in firm.crews:
        own = [v for v in visits if v.crew == crew.id]
        for at in {v.start_minute for v in own} | {a.start_minute for a in crew.absences}:
            used = [v.people for v in own if v.start_minute <= at < v.end_minute]
            away = sum(a.people for a in crew.absences if a.start_minute <= at < a.end_minute)
            if used and sum(used) + away > crew.people:
                found.append(
                    f"{crew.id} has {crew.people} people, {away} away, and {sum(used)} at work at {at}"
                )
    return found


def _of_task(
    firm: Firm,
    job: FirmJob,
    one: Task,
    placed: dict[tuple[str, str], Visit],
    travel: Callable[[str, str], int],
) -> list[str]:
    visit, name = placed[job.id, one.id], f"{job.id} {one.id}"
    crew = next(c for c in firm.crews if c.id == visit.crew)
    site = next(s for s in firm.sites if s.id == job.site)
    found = [] if one.skill in crew.skills else [f"{name}: {crew.id} lacks the skill"]
    kinds = {machine.id: machine.kind for machine in firm.machines} | {"": ""}
    if kinds[visit.machine] != one.machine:
        found.append(f"{name}: has the machine {visit.machine!r}")
    if visit.start_minute < max(job.earliest, one.not_before or 0):
        found.append(f"{name}: starts too early")
    for lag in one.lags:
        wait = visit.start_minute - placed[job.id, lag.after].end_minute
        if wait < lag.least_minutes or (lag.greatest_minutes is not None and wait > lag.greatest_minutes):
            found.append(f"{name}: starts {wait} minutes after {lag.after}")
    ways = (travel(crew.home, site.id), travel(site.id, crew.home))
    work = [m for m in range(visit.start_minute, visit.end_minute) if _open(crew, site, ways, m)]
    minutes = {choice.people: choice.minutes for choice in one.choices}.get(visit.people)
    if len(work) != minutes:
        found.append(f"{name}: {len(work)} open minutes for {visit.people} people, {minutes} are needed")
    elif work[0] != visit.start_minute or work[-1] != visit.end_minute - 1:
        found.append(f"{name}: starts or ends while nobody may work")
    if one.whole and len({_local(m, crew.calendar.time_zone).date() for m in (work[0], work[-1])}) > 1:
        found.append(f"{name}: runs over a night")
    return found


def worked_from(firm: Firm, visit: Visit, start: int, *, travel: Callable[[str, str], int]) -> Visit:
    """The visit begun at another minute and worked on whenever crew and site are open, minute by minute."""
    job = next(job for job in firm.jobs if job.id == visit.job)
    site = next(site for site in firm.sites if site.id == job.site)
    crew = next(crew for crew in firm.crews if crew.id == visit.crew)
    one = next(one for one in job.tasks if one.id == visit.task)
    left = next(choice.minutes for choice in one.choices if choice.people == visit.people)
    at, ways = start, (travel(crew.home, site.id), travel(site.id, crew.home))
    while left:
        left -= _open(crew, site, ways, at)
        at += 1
    return replace(visit, start_minute=start, end_minute=at)


@cache
def _local(at: int, zone: str) -> datetime:
    return datetime.fromtimestamp(at * 60, tz=UTC).astimezone(ZoneInfo(zone))


def _open(crew: Crew, site: Site, ways: tuple[int, int], at: int) -> bool:
    """Whether the crew may be at work there: within a shift (none here runs over midnight), as long after the
    day's first shift begins and before its last one ends as the way takes, in the site's hours."""
    local = _local(at, crew.calendar.time_zone)
    shifts = sorted((s, e) for day, s, e in crew.calendar.shifts if day == local.weekday())
    if not shifts or local.date() in crew.calendar.holidays:
        return False
    inside = any(start <= local.time() < end for start, end in shifts)
    begin = datetime.combine(local.date(), shifts[0][0], tzinfo=local.tzinfo)
    end = datetime.combine(local.date(), shifts[-1][1], tzinfo=local.tzinfo)
    late_enough = minute(begin) + ways[0] <= at < minute(end) - ways[1]
    return inside and late_enough and _site_open(site, crew, at)


def _site_open(site: Site, crew: Crew, at: int) -> bool:
    calendar = site.allowed
    here = _local(at, (calendar or crew.calendar).time_zone)
    if here.date() in site.blocked:
        return False
    if calendar is None:
        return True
    if here.date() in calendar.holidays:
        return False
    return any(d == here.weekday() and s <= here.time() < e for d, s, e in calendar.shifts)


def ways_of(firm: Firm) -> Callable[[str, str], int]:
    """Minutes from place to place by the shortest way, by trying every place in between again and again."""
    names = list({*(site.id for site in firm.sites), *(crew.home for crew in firm.crews), ""})
    found = {(a, b): 0 if a == b else 10**6 for a in names for b in names}
    for site in {site.id for site in firm.sites} - {place for pair in firm.travel for place in pair}:
        found["", site] = found[site, ""] = 0
    for (a, b), minutes in firm.travel.items():
        found[a, b] = minutes
        if (b, a) not in firm.travel:
            found[b, a] = minutes
    for k in names:
        for a in names:
            for b in names:
                found[a, b] = min(found[a, b], found[a, k] + found[k, b])
    return lambda a, b: found[a, b]
