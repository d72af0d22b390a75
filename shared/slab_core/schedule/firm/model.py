"""The firm: crews, machines, sites and jobs, and the plan over all of them. Instants are UTC minutes."""

from dataclasses import dataclass
from datetime import date

from slab_core.errors import Problem
from slab_core.schedule.model import Calendar, Lag
from slab_core.schedule.people import Choice


@dataclass(frozen=True, slots=True, kw_only=True)
class Absence:
    """So many people of a crew are away from one minute until another."""

    start_minute: int
    end_minute: int
    people: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Crew:
    """People who travel together: at one site at a time, where they may share out over several activities.
    `home` is the place where they begin and end their day, "" for the yard."""

    id: str
    people: int
    skills: frozenset[str]
    calendar: Calendar
    absences: tuple[Absence, ...] = ()
    home: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """One machine; an activity asks for a kind."""

    id: str
    kind: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """Where a job is. `allowed` are the hours in which work is allowed, None for always; on `blocked` local
    days the customer lets nobody in."""

    id: str
    allowed: Calendar | None = None
    blocked: tuple[date, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One piece of a job's work. `choices` are numbers of people with the worked minutes they need; lags
    name tasks of the same job. With `whole` it ends on the day it began; `not_before` may be a delivery.
    `holds` say in words who has to settle what at it."""

    id: str
    what: str
    skill: str
    choices: tuple[Choice, ...]
    machine: str = ""
    lags: tuple[Lag, ...] = ()
    whole: bool = False
    not_before: int | None = None
    holds: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FirmJob:
    """A job at a site: tasks in an order in which each comes after what it waits for; begins no earlier than
    `earliest`, and is promised to be done by `promised`, if it is."""

    id: str
    site: str
    tasks: tuple[Task, ...]
    earliest: int
    promised: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Firm:
    """Everything that is planned together. `travel[a, b]` are minutes between sites and homes of crews; "" is
    the yard. The way back takes as long unless it is listed too; between places that are not listed together
    the way leads over others; a site that no pair names is at the yard."""

    crews: tuple[Crew, ...]
    machines: tuple[Machine, ...]
    sites: tuple[Site, ...]
    jobs: tuple[FirmJob, ...]
    travel: dict[tuple[str, str], int]

    def places(self) -> tuple[str, ...]:
        """Sites in their order, homes that are no sites, and last the yard."""
        sites = tuple(site.id for site in self.sites)
        homes = {crew.home: None for crew in self.crews if crew.home and crew.home not in sites}
        return (*sites, *homes, "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """A task placed: who, with how many people, with which machine ("" for none), from when until when."""

    job: str
    task: str
    crew: str
    people: int
    machine: str
    start_minute: int
    end_minute: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FirmPlan:
    """When everything is done.

    `late_minutes` past promised dates, summed over jobs, and `late_bound`, less than which no plan has.
    `paid_minutes` are person-minutes from leaving home to coming back, breaks left out: work, travel and
    waiting; `paid_bound` is less than any plan's. `gap` is the share of the first of the two that is not
    proven: of late minutes where these are above their bound, else of paid minutes. `overdue_minutes` are
    those by which greatest lags are exceeded (see `problems`). `chains` say for each late job, or else for
    the one that is done last, what it waits for. `latest_start_minute` says of each visit, in their order,
    how late it might start while all others stay where they are and no job is later.
    """

    visits: tuple[Visit, ...]
    late_minutes: int
    late_bound: int
    paid_minutes: int
    paid_bound: int
    gap: float
    overdue_minutes: int
    work_minutes: int
    travel_minutes: int
    chains: tuple[tuple[str, ...], ...]
    latest_start_minute: tuple[int, ...] = ()
    problems: tuple[Problem, ...] = ()
