"""Jobs to plan, and a judge of plans that shares nothing with the planner: it walks minute by minute."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from slab_core.materials import starter as materials
from slab_core.materials.model import Adhesive, Climate
from slab_core.numerics.budget import Budget
from slab_core.schedule.model import Activity, Calendar, Placed, Schedule
from slab_core.schedule.plan import schedule
from slab_core.schedule.starter import calendar as starter_calendar
from slab_core.takeoff.codes import TASK
from slab_core.takeoff.model import Takeoff, Task

CHICAGO = "America/Chicago"
MONDAY = datetime(2026, 1, 12, 8, tzinfo=ZoneInfo(CHICAGO))
GRID = 5


def task(
    code: str,
    hours: float,
    machine_hours: float = 0.0,
    *,
    part: str = "",
    depth_m: float = 0.0,
    lift: int = 0,
    bags: int = 0,
    free: bool = False,
    floor: str = "living",
    phase: int = 1,
) -> Task:
    """A task with the people and the machine that its code takes."""
    kind = TASK[code]
    return Task(
        code=code,
        what=kind.what,
        floor=floor,
        phase=phase,
        person_hours=hours,
        machine_hours=machine_hours,
        machine=kind.machine if machine_hours else "",
        least_people=kind.least_people,
        most_people=kind.most_people,
        part=part,
        depth_m=depth_m,
        lift=lift,
        bags=bags,
        free=free,
    )


def job_task(code: str, hours: float) -> Task:
    """A task of the whole job."""
    return task(code, hours, floor="", phase=0)


def takeoff(tasks: tuple[Task, ...]) -> Takeoff:
    """A takeoff with nothing but tasks."""
    return Takeoff(alternate="plane", lines=(), tasks=tasks, floor_m2=28.0, order_weight_kg=0.0)


def plan(
    tasks: tuple[Task, ...],
    *,
    start: datetime = MONDAY,
    calendar: Calendar | None = None,
    adhesive: Adhesive | None = None,
    climate: Climate | None = None,
    people: int = 3,
    budget: Budget | None = None,
) -> Schedule:
    """The plan of some tasks with starter values."""
    rates = materials.rates()
    return schedule(
        takeoff=takeoff(tasks),
        rates=type(rates)(**{**{f: getattr(rates, f) for f in rates.__dataclass_fields__}, "people": people}),
        climate=climate or Climate(),
        compound=materials.compound(),
        primer=materials.primer(),
        adhesive=adhesive or materials.plain_adhesive(),
        calendar=calendar or starter_calendar(CHICAGO),
        earliest_start=start,
        budget=budget or Budget(),
    )


def whole_job() -> tuple[Task, ...]:
    """One room of 300 ft² with a floating floor out: 24 bags in two bays, 6 machine-hours on the floor
    grinder and 3 by hand (bond and height together), a hearth, 15 ft of T-molding, 60 ft of base, 15 ft of
    carpet edge, at the middle of usual rates: 24 pins at 11.5 a PH, 24 bags at 21.5 an hour by three and
    7.5 PH for the pour day, 60 ft of borders at 12.5 ft a PH, boards cut at 20 and laid at 32.5 ft² a PH."""
    return (
        task("furniture-out", 1.1),
        job_task("containment", 2.0),
        task("base-off", 1.2),
        task("tear-out", 3.3),
        job_task("moisture-test", 0.75),
        task("survey", 2.5),
        task("bond-grind", 2.5, 2.0),
        task("edge-grind", 1.8, 1.8),
        task("grind", 5.0, 4.0),
        task("hand-grind", 1.2, 1.2),
        task("pins", 2.1),
        task("prime", 2.0),
        task("pour", 5.4, 0.6, part="bay-1", depth_m=0.009, lift=1),
        task("pour", 5.4, 0.6, part="bay-2", depth_m=0.009, lift=1),
        task("edges", 4.8, depth_m=0.006),
        task("polish", 3.0, 2.6),
        task("verify", 2.7),
        task("acclimation", 0.0),
        task("undercut", 2.0, 2.0),
        task("casing-legs", 1.0),
        task("pre-cut", 15.0),
        *(task("spread", 1.6, part=f"spread-{n}") for n in range(1, 7)),
        task("transitions", 1.7),
        task("trim", 2.0),
        task("carpet-edge", 1.0),
        task("clean", 1.4),
        task("furniture-in", 1.1),
        job_task("hand-over", 2.0),
    )


def faults(*, plan: Schedule, calendar: Calendar, crew: int) -> list[str]:
    """Everything a plan breaks, each in words; empty for a plan that keeps every rule."""
    placed = {p.activity: p for p in plan.placed}
    found = [] if len(placed) == len(plan.activities) else ["an activity is missing or placed twice"]
    open_minutes = _open_minutes(plan, calendar)
    used: dict[int, int] = {}
    machines: dict[tuple[str, int], str] = {}
    for activity in plan.activities:
        at = placed[activity.id]
        worked = [m for m in range(at.start_minute, at.end_minute) if m in open_minutes]
        found += _own_faults(activity, at, worked, open_minutes)
        found += _lag_faults(activity, at, placed)
        for minute in worked:
            used[minute] = used.get(minute, 0) + activity.people
            if activity.machine:
                other = machines.setdefault((activity.machine, minute), activity.id)
                if other != activity.id:
                    found.append(f"{activity.machine} is on {other} and {activity.id} at once")
    found += _poured_faults(plan, placed)
    if max(used.values(), default=0) > crew:
        found.append(f"{max(used.values())} people at once")
    return found


def _poured_faults(plan: Schedule, placed: dict[str, Placed]) -> list[str]:
    rates, days = materials.rates(), dict[int, float]()
    for activity in plan.activities:
        day, most = placed[activity.id].first_day, rates.most_bags(free=activity.free)
        days[day] = days.get(day, 0.0) + activity.bags / most
    return [f"{share:.2f} of what day {day} takes" for day, share in days.items() if share > 1.0 + 1e-9]


def _own_faults(activity: Activity, at: Placed, worked: list[int], shifts: dict[int, str]) -> list[str]:
    found = []
    if not worked or worked[0] != at.start_minute or worked[-1] != at.end_minute - 1:
        found.append(f"{activity.id} begins or ends outside the calendar")
    if not 0 <= len(worked) - activity.work_minutes < GRID:
        found.append(f"{activity.id} works {len(worked)} of {activity.work_minutes} minutes")
    if not activity.splits_over_nights and len({shifts[m] for m in worked}) > 1:
        found.append(f"{activity.id} runs over a night")
    return found


def _lag_faults(activity: Activity, at: Placed, placed: dict[str, Placed]) -> list[str]:
    found = []
    for lag in activity.lags:
        waited = at.start_minute - placed[lag.after].end_minute
        if waited < lag.least_minutes:
            found.append(f"{activity.id} waits {waited} of {lag.least_minutes} minutes after {lag.after}")
        if lag.greatest_minutes is not None and waited > lag.greatest_minutes:
            found.append(f"{activity.id} waits {waited}, at most {lag.greatest_minutes}, after {lag.after}")
    return found


def _open_minutes(plan: Schedule, calendar: Calendar) -> dict[int, str]:
    """Every UTC minute of the plan that local clocks put inside a shift (of one date), with that date."""
    zone = ZoneInfo(calendar.time_zone)
    begin = datetime(1970, 1, 1, tzinfo=UTC)
    found = {}
    for minute in range(plan.start_minute, plan.finish_minute):
        local = (begin + timedelta(minutes=minute)).astimezone(zone)
        shifts = [s for s in calendar.shifts if s[0] == local.weekday() and s[1] <= local.time() < s[2]]
        if shifts and local.date() not in calendar.holidays:
            found[minute] = local.date().isoformat()
    return found


def local(minute: int, zone: str = CHICAGO) -> str:
    """A UTC minute as the clock on the wall shows it."""
    moment = datetime.fromtimestamp(minute * 60, tz=UTC).astimezone(ZoneInfo(zone))
    return moment.strftime("%a %d %H:%M")


def at(result: Schedule, id: str) -> Placed:
    """When one activity runs."""
    return next(p for p in result.placed if p.activity == id)


def second_floor() -> tuple[Task, ...]:
    """The whole job again on a smaller floor."""
    return tuple(replace(t, floor="hall", person_hours=0.6 * t.person_hours) for t in whole_job() if t.floor)


def hour_pours(*bags: int, floor: str = "living", free: bool = False) -> tuple[Task, ...]:
    """Pours of an hour each by three people: by their time alone all would fit into a day."""
    return tuple(
        task(
            "pour",
            3.0,
            part=f"{floor}-bay{n}-lift1",
            depth_m=0.006,
            lift=1,
            bags=count,
            free=free,
            floor=floor,
        )
        for n, count in enumerate(bags, start=1)
    )
