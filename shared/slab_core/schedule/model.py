"""Activities over days, with drying between them. Instants are integer UTC minutes since 1970."""

from dataclasses import dataclass
from datetime import date, time

from slab_core.errors import Problem
from slab_core.takeoff.codes import MOISTURE_VALID_HOURS


@dataclass(frozen=True, slots=True, kw_only=True)
class Calendar:
    """When the site may be worked on, in its own time zone: shifts by weekday (0 is Monday)."""

    version: str
    time_zone: str
    shifts: tuple[tuple[int, time, time], ...]
    holidays: tuple[date, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Waits:
    """Waits that belong to the order of work and not to a product, in hours: common practice, no single
    source. `moisture_hours` for probes in the slab to settle (24-72); `moisture_valid_hours` until a result
    expires (from memory); `acclimation_hours` of the boards in running climate (48-72, from memory); a skim
    dries in 1-3 h; tape is off within 24-48 h; `light_work_hours` after the last spread the floor bears trim
    work (from memory). `reading_ph` is the part of the moisture test that is its reading, `tape_off_share`
    that of laying in which straps and tape come off and hollow places are listened for (from memory)."""

    version: str = "starter-1"
    moisture_hours: float = 24.0
    moisture_valid_hours: float = MOISTURE_VALID_HOURS
    acclimation_hours: float = 48.0
    skim_hours: float = 3.0
    tape_off_within_hours: float = 48.0
    light_work_hours: float = 12.0
    reading_ph: float = 0.25
    tape_off_share: float = 0.04


STARTER_WAITS = Waits()


@dataclass(frozen=True, slots=True, kw_only=True)
class Lag:
    """A wait after another activity's end, in elapsed minutes: at least, and at most where it expires."""

    after: str
    least_minutes: int = 0
    greatest_minutes: int | None = None
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Activity:
    """One piece of work. `work_minutes` are worked minutes with `people`; a hold waits for somebody;
    `bags` are those of a pour, which finds its own level if it is `free`."""

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
    bags: int = 0
    free: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """When an activity runs: UTC minutes, and the working day of the job in local time (1 is the first day
    of work; days without a shift do not count)."""

    activity: str
    start_minute: int
    end_minute: int
    first_day: int
    last_day: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Purchase:
    """One product of the job, all its lines together. `order` is in whole packages; `needed_on` and
    `order_by` are days at the site, the latter a working day of the job's calendar. `first_use` is the id of
    the activity that needs it first."""

    product: str
    what: str
    order: float
    package: str
    weight_kg: float
    first_use: str
    needed_on: date
    order_by: date


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedHold:
    """A hold point of the takeoff: `who` has to settle it before the `activity` begins, at `by_minute`."""

    code: str
    what: str
    who: str
    rule: str
    source: str
    activity: str
    by_minute: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """Result of the schedule stage: a stand-alone plan on pinned calendars.

    `finish_bound_minute` is a proven earliest finish. `status` is "optimal" when the two are equal,
    "feasible" when not, "lag-violated" when a greatest lag cannot be kept (see `problems`).
    `working_days` counts days with a shift from the first to the last, `site_days` those with people on
    site, `pour_days` those with a pour. `critical` explains in words what the finish waits for. `purchases`
    is everything to buy, what is to be ordered first before the rest, `holds` what has to be settled and by
    when; earlier results lack both.
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
    purchases: tuple[Purchase, ...] = ()
    holds: tuple[PlacedHold, ...] = ()
    problems: tuple[Problem, ...] = ()
