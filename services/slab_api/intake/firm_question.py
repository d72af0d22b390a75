"""A posted schedule, replan or what-if as a question for the core, or every reason why it cannot be one."""

import re
from dataclasses import replace
from datetime import UTC, datetime

from slab_api.intake.crews import NOBODY, newest_crews
from slab_api.intake.firm_jobs import OPEN, FirmMeans, read_jobs
from slab_api.intake.firm_means import MeansReader, places
from slab_api.problems import invalid
from slab_api.schemas.firm_schedules import FirmScheduleCreate, ReplanCreate, WhatIfCreate
from slab_app.actions.firm_schedules import Answered
from slab_app.actions.quoted_work import quoted_work
from slab_app.errors import Fault
from slab_core.errors import InputRefused
from slab_core.schedule.firm.asked import FirmQuestion
from slab_core.schedule.firm.check import check_firm
from slab_core.schedule.firm.model import Crew, Site, Visit
from slab_store.unit_of_work import UnitOfWork

_ANY_TIME = datetime(2000, 1, 1, tzinfo=UTC)
"""Stands in for a moment that is a fault already."""

_IN_A_JOB = re.compile(r"^(/jobs/\d+)/.*$")


def read_plan(
    uow: UnitOfWork, *, posted: FirmScheduleCreate, like: FirmQuestion | None, now: datetime
) -> FirmQuestion:
    """All from the document, but for what it takes over from the schedule that it is `like`, or else from the
    firm's own crews.

    Raises ApiProblem that names every place that is wrong.
    """
    reader = MeansReader(uow=uow, time_zone=_first_zone(uow, posted))
    if posted.like is not None and like is None:
        reader.fault("there is no schedule of the firm with this id", ("like",))
    now_minute = reader.moment(posted.from_, ("from",), default=now)
    means = _means(reader, posted, like)
    _homes_joined(reader, means)
    if not means.crews:
        reader.fault(
            "list crews, name a schedule in like to take them from, or post the firm's crews once",
            ("crews",),
        )
        raise invalid(tuple(reader.faults))
    listed = [(job, ("jobs", n)) for n, job in enumerate(posted.jobs)]
    jobs, sites = read_jobs(reader, listed, means=means, now_minute=now_minute)
    question = FirmQuestion(
        ask="plan",
        crews=means.crews,
        machines=means.machines,
        sites=sites,
        jobs=jobs,
        ways=means.ways,
        now_minute=now_minute,
        seconds=posted.seconds,
    )
    return _checked(question, reader, place=r"\1")


def read_replan(uow: UnitOfWork, *, posted: ReplanCreate, before: Answered, now: datetime) -> FirmQuestion:
    """The question that the plan `before` answered, with what has changed since. Raises ApiProblem."""
    reader = _reader_of(uow, before)
    kept = before.question
    now_minute = reader.moment(posted.from_, ("from",), default=now)
    known = [job.id for job in kept.jobs]
    for name in ("free", "drop"):
        for n, id in enumerate(getattr(posted, name)):
            if id not in known:
                reader.fault(f"the plan has no job {id!r}; it has {', '.join(known)}", (name, n))
    stay = [job for job in kept.jobs if job.id not in posted.drop]
    means = _with_places(reader, posted, before)
    means = replace(
        means, crews=_absent(reader, posted, kept.crews), sites=_closed(reader, posted, means.sites)
    )
    listed = [(job, ("jobs", n)) for n, job in enumerate(posted.jobs)]
    jobs, sites = read_jobs(reader, listed, means=means, now_minute=now_minute, taken=[j.id for j in stay])
    if not stay and not posted.jobs:
        reader.fault("nothing is left to be planned", ("drop",))
    question = replace(
        kept,
        ask="replan",
        crews=means.crews,
        sites=sites,
        jobs=(*stay, *jobs),
        ways=means.ways,
        now_minute=now_minute,
        seconds=posted.seconds,
        before=tuple(v for v in _happened(reader, posted, before) if v.job not in posted.drop),
        free=posted.free,
    )
    return _checked(question, reader, place="")


def read_what_if(uow: UnitOfWork, *, posted: WhatIfCreate, before: Answered, now: datetime) -> FirmQuestion:
    """The plan `before` with one more job to be asked about. Raises ApiProblem."""
    reader = _reader_of(uow, before)
    kept = before.question
    now_minute = reader.moment(posted.from_, ("from",), default=now)
    means = _with_places(reader, posted, before)
    jobs, sites = read_jobs(
        reader,
        [(posted.job, ("job",))],
        means=means,
        now_minute=now_minute,
        states=OPEN,
        taken=[job.id for job in kept.jobs],
    )
    question = replace(
        kept,
        ask="what-if",
        sites=sites,
        ways=means.ways,
        now_minute=now_minute,
        seconds=posted.seconds,
        before=before.plan().visits,
        free=(),
        new=jobs[0] if jobs else None,
    )
    return _checked(question, reader, place="/job")


def _means(reader: MeansReader, posted: FirmScheduleCreate, like: FirmQuestion | None) -> FirmMeans:
    """Each list as it is posted, or as the other schedule, or else the firm, has it."""
    sites = reader.sites(posted.sites)
    stored = NOBODY if like is not None else newest_crews(reader.uow)
    crews = reader.crews(posted.crews or stored.crews or ())
    machines = reader.machines(posted.machines or stored.machines or ())
    if like is None:
        ways = reader.ways(posted.travel, sites=sites, crews=crews)
        return FirmMeans(crews=crews, machines=machines, sites=sites, ways=ways)
    sites, crews = sites or like.sites, crews or like.crews
    known = places(sites, crews)
    older = tuple(way for way in like.ways if {way.start, way.end} <= known)
    return FirmMeans(
        crews=crews,
        machines=machines or like.machines,
        sites=sites,
        ways=reader.ways(posted.travel, sites=sites, crews=crews) or older,
    )


def _homes_joined(reader: MeansReader, means: FirmMeans) -> None:
    """A home that is no site must be named by a way, or nobody knows how far it is."""
    known = {site.id for site in means.sites} | {
        place for way in means.ways for place in (way.start, way.end)
    }
    for crew in means.crews:
        if crew.home and crew.home not in known:
            reader.fault(
                f"no way leads to {crew.home!r}, the home of crew {crew.id!r}; list one to a site or yard",
                ("travel",),
            )


def _first_zone(uow: UnitOfWork, posted: FirmScheduleCreate) -> str:
    """The zone of the first job that can be read; a wrong quote is told of later."""
    for job in posted.jobs:
        quote = uow.quotes.get(id=job.quote)
        if quote is not None and quote.state == "accepted":
            return quoted_work(uow, quote=quote).time_zone
    return "UTC"


def _reader_of(uow: UnitOfWork, before: Answered) -> MeansReader:
    return MeansReader(uow=uow, time_zone=before.question.crews[0].calendar.time_zone)


def _with_places(reader: MeansReader, posted: ReplanCreate | WhatIfCreate, before: Answered) -> FirmMeans:
    """The firm of before with the sites and ways that are new."""
    kept = before.question
    new = reader.sites(posted.sites)
    ids = {site.id for site in kept.sites}
    for n, site in enumerate(new):
        if site.id in ids:
            reader.fault(f"the plan has a site {site.id!r} already", ("sites", n, "id"))
    sites = (*kept.sites, *(site for site in new if site.id not in ids))
    ways = reader.ways(posted.travel, sites=sites, crews=kept.crews)
    told = {(way.start, way.end) for way in ways}
    older = tuple(way for way in kept.ways if (way.start, way.end) not in told)
    return FirmMeans(crews=kept.crews, machines=kept.machines, sites=sites, ways=(*older, *ways))


def _absent(reader: MeansReader, posted: ReplanCreate, crews: tuple[Crew, ...]) -> tuple[Crew, ...]:
    found = {crew.id: crew for crew in crews}
    for n, absence in enumerate(posted.absences):
        crew = found.get(absence.crew)
        if crew is None:
            reader.fault(f"the plan has no crew {absence.crew!r}", ("absences", n, "crew"))
            continue
        away = reader.absence(absence, people=crew.people, calendar=crew.calendar, at=("absences", n))
        found[crew.id] = replace(crew, absences=(*crew.absences, away))
    return tuple(found.values())


def _closed(reader: MeansReader, posted: ReplanCreate, sites: tuple[Site, ...]) -> tuple[Site, ...]:
    found = {site.id: site for site in sites}
    for n, blocked in enumerate(posted.blocked):
        site = found.get(blocked.site)
        if site is None:
            reader.fault(f"the plan has no site {blocked.site!r}", ("blocked", n, "site"))
            continue
        found[site.id] = replace(site, blocked=tuple(sorted({*site.blocked, *blocked.days})))
    return tuple(found.values())


def _happened(reader: MeansReader, posted: ReplanCreate, before: Answered) -> tuple[Visit, ...]:
    """The visits of before with the starts and ends that are told."""
    visits = {(visit.job, visit.task): visit for visit in before.plan().visits}
    for n, told in enumerate(posted.happened):
        visit = visits.get((told.job, told.task))
        at = ("happened", n)
        if visit is None:
            reader.fault(f"the plan has no task {told.task!r} of a job {told.job!r}", at)
            continue
        start = visit.start_minute if told.start is None else _minute(reader, told.start, (*at, "start"))
        end = visit.end_minute if told.end is None else _minute(reader, told.end, (*at, "end"))
        if told.end is None and told.start is not None:
            end = start + visit.end_minute - visit.start_minute
        if end <= start:
            reader.fault("it ends before it starts; give its start too", (*at, "end"))
        visits[told.job, told.task] = replace(visit, start_minute=start, end_minute=end)
    return tuple(visits.values())


def _minute(reader: MeansReader, value: datetime, at: tuple[str | int, ...]) -> int:
    return reader.moment(value, at, default=_ANY_TIME)


def _checked(question: FirmQuestion, reader: MeansReader, *, place: str) -> FirmQuestion:
    """The question, if nothing in it is wrong. What is wrong within a job is named at its `place`."""
    faults = list(reader.faults)
    firm = question.firm()
    if question.new is not None:
        firm = replace(firm, jobs=(*firm.jobs, question.new))
    try:
        if not faults:
            check_firm(firm)
    except InputRefused as refused:
        faults += [
            Fault(detail=problem.detail, pointer=_IN_A_JOB.sub(place, problem.pointer))
            for problem in refused.problems
        ]
    if faults:
        raise invalid(tuple(faults))
    return question
