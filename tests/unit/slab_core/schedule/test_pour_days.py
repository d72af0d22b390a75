"""Plan, takeoff and schedule say the same number of pour days, and no hall waits for its boards to be cut.

Whole jobs in memory, from readings to days.
"""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.correction.model import Plan
from slab_core.job import Job
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats
from slab_core.pipeline.line import Line, run
from slab_core.schedule.model import Schedule
from slab_core.schedule.plan import schedule
from slab_core.stages import JOB, PLANE
from slab_core.takeoff.model import Takeoff
from tests.sample_jobs import one_room_job
from tests.takeoff_jobs import line as line_of


def _waves(x: Floats, y: Floats) -> Floats:
    """Humps and hollows of 14 mm every 5 m or so, on a long swell."""
    return np.asarray(0.014 * np.sin(x / 1.6) * np.cos(y / 1.9) + 0.004 * np.cos(y / 4.3), dtype=np.float64)


def _results(line: Line) -> tuple[Plan, Takeoff, Schedule]:
    return (
        line.model(Plan, "correction", "studio", PLANE),
        line.model(Takeoff, "takeoff", JOB, PLANE),
        line.model(Schedule, "schedule", JOB, PLANE),
    )


def _bags_by_day(made: Schedule) -> dict[int, int]:
    placed = {p.activity: p for p in made.placed}
    days: dict[int, int] = {}
    for pour in (a for a in made.activities if a.code == "pour"):
        day = placed[pour.id].first_day
        days[day] = days.get(day, 0) + pour.bags
    return days


def _first_day(made: Schedule, code: str) -> int:
    ids = {a.id for a in made.activities if a.code == code}
    return min(p.first_day for p in made.placed if p.activity in ids)


HALL = one_room_job(width_m=20.0, depth_m=30.0, count=1500, truth=_waves)
ROOM = one_room_job(width_m=8.0, depth_m=10.0, count=200, truth=_waves)


@pytest.fixture(scope="module")
def hall() -> Line:
    return run(job=HALL)


def _agree(plan: Plan, takeoff: Takeoff, made: Schedule, *, per_day: int) -> None:
    days = _bags_by_day(made)
    assert sum(days.values()) == plan.bags
    assert max(days.values()) <= per_day
    assert plan.pour_days == line_of(takeoff, "mixing").order == len(days) == made.pour_days


@pytest.mark.parametrize("per_day", [12, 30, 80])
def test_a_room_is_poured_on_as_many_days_as_the_plan_and_the_takeoff_count(per_day: int) -> None:
    # 12-30 bags a day screeded in a lived-in house, 60-100 free pour: common practice, no single source.
    job = replace(ROOM, rates=replace(ROOM.rates, bags_per_day=per_day))
    plan, takeoff, made = _results(run(job=job))
    assert plan.bags > 30
    _agree(plan, takeoff, made, per_day=per_day)


def test_a_hall_is_poured_on_as_many_days_as_the_plan_and_the_takeoff_count(hall: Line) -> None:
    plan, takeoff, made = _results(hall)
    assert max(pour.bags for pour in plan.pours) > 30  # its bays are longer than a day
    _agree(plan, takeoff, made, per_day=30)


def test_cutting_boards_does_not_keep_a_hall_from_being_poured(hall: Line) -> None:
    _, takeoff, made = _results(hall)
    uncut = replace(takeoff, tasks=tuple(task for task in takeoff.tasks if task.code != "pre-cut"))
    assert _first_day(made, "pour") <= _first_day(_scheduled(HALL, uncut), "pour")
    assert _first_day(made, "pre-cut") < _first_day(made, "pour")  # while others grind


def test_in_a_hall_every_moisture_result_is_kept_because_the_test_is_taken_again(hall: Line) -> None:
    _, takeoff, made = _results(hall)
    assert made.status != "lag-violated"
    assert [p for p in made.problems if p.code == "lag-cannot-be-kept"] == []
    assert "from the first test to the last spread" in line_of(takeoff, "moisture-retest").trace.formula
    placed = {p.activity: p for p in made.placed}
    readings = {a.id for a in made.activities if a.code == "moisture-reread"}
    for spread in (a for a in made.activities if a.code == "spread"):
        (lag,) = [lag for lag in spread.lags if lag.after in readings]
        waited = placed[spread.id].start_minute - placed[lag.after].end_minute
        assert 0 <= waited <= 336 * 60
        assert lag.greatest_minutes == 336 * 60


def _scheduled(job: Job, takeoff: Takeoff) -> Schedule:
    return schedule(
        takeoff=takeoff,
        rates=job.rates,
        climate=job.climate,
        compound=job.catalogue.compound,
        primer=job.catalogue.primer,
        adhesive=job.catalogue.adhesive,
        calendar=job.calendar,
        earliest_start=job.earliest_start,
        budget=Budget(),
    )
