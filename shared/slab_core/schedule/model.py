"""Activities over days, with drying between them. Instants are integer UTC minutes since 1970."""

from dataclasses import dataclass
from datetime import date, time

from slab_core.errors import Problem


@dataclass(frozen=True, slots=True, kw_only=True)
class Calendar:
    """When the site may be worked on, in its own time zone: shifts by weekday (0 is Monday)."""

    version: str
    time_zone: str
    shifts: tuple[tuple[int, time, time], ...]
    holidays: tuple[date, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Lag:
    """A wait after another activity's end, in elapsed minutes: at least, and at most where it expires."""

    after: str
    least_minutes: int = 0
    greatest_minutes: int | None = None
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Activity:
    """One piece of work. `work_minutes` are worked minutes with `people`; a hold waits for somebody."""

    id: str
    code: str
    what: str
    floor: str
    phase: int
    people: int
    work_minutes: int
    person_hours: float
    machine: str
    lags: tuple[Lag, ...]
    hold: str = ""
    splits_over_nights: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """When an activity runs: UTC minutes, and the local day of the job (1 is the first)."""

    activity: str
    start_minute: int
    end_minute: int
    first_day: int
    last_day: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """Result of the schedule stage: a stand-alone plan on pinned calendars.

    `finish_bound_minute` is a proven earliest finish. `critical` explains in words what the finish
    waits for.
    """

    alternate: str
    activities: tuple[Activity, ...]
    placed: tuple[Placed, ...]
    start_minute: int
    finish_minute: int
    finish_bound_minute: int
    status: str
    working_days: int
    pour_days: int
    site_days: int
    person_hours: float
    critical: tuple[str, ...]
    problems: tuple[Problem, ...] = ()
