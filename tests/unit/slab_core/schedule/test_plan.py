"""Plans of whole jobs, judged by a checker of their own."""

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.errors import InputRefused
from slab_core.materials import starter as materials
from slab_core.materials.model import Climate
from slab_core.numerics.budget import Budget, Stopped
from slab_core.schedule.model import STARTER_WAITS, Calendar
from slab_core.schedule.starter import calendar as starter_calendar
from slab_core.takeoff.model import Task
from tests.unit.slab_core.schedule.plans import (
    CHICAGO,
    MONDAY,
    at,
    faults,
    job_task,
    local,
    plan,
    second_floor,
    task,
    whole_job,
)


@pytest.mark.parametrize("weekday", [1, 2, 3, 4])
def test_the_whole_job_takes_three_people_five_to_six_days_and_days_two_to_four_wait_on_drying(
    weekday: int,
) -> None:
    # Plausibility case of the trade (common practice, no single source): 300 ft², 85-125 PH, 5-6 days for
    # three, days 2, 3 and 4 wait on drying. With a barrier adhesive no moisture result holds up the primer.
    start = MONDAY + timedelta(days=weekday)
    result = plan(whole_job(), adhesive=materials.barrier_adhesive(), start=start)
    assert faults(plan=result, calendar=starter_calendar(CHICAGO), crew=3) == []
    trips = (result.site_days - result.pour_days) * materials.rates().trip_ph
    assert 85 <= result.person_hours + trips <= 125
    assert 5 <= result.working_days <= 6
    assert result.pour_days == 1
    assert at(result, "living/1/pour/bay-2").last_day == 2
    assert at(result, "living/1/edges").first_day == 3
    assert at(result, "living/1/polish").first_day == 4
    chain = "\n".join(result.critical)
    assert "Day 3: fill the borders waits 18 h for the pour to dry" in chain
    assert "Day 4: polish the fill waits 18 h for the borders to dry" in chain


def test_begun_on_a_monday_the_last_boards_wait_for_the_tape_to_come_off_after_the_weekend() -> None:
    result = plan(whole_job(), adhesive=materials.barrier_adhesive(), start=MONDAY)
    assert faults(plan=result, calendar=starter_calendar(CHICAGO), crew=3) == []
    assert result.working_days == 7
    assert any(
        "is held back so that take off straps and tape follows within 48 h" in line
        for line in result.critical
    )


def test_a_moisture_result_that_the_primer_waits_for_costs_a_day() -> None:
    tuesday = MONDAY + timedelta(days=1)
    free = plan(whole_job(), adhesive=materials.barrier_adhesive(), start=tuesday)
    held = plan(whole_job(), adhesive=materials.plain_adhesive(), start=tuesday)
    assert held.working_days == free.working_days + 1
    read = next(a for a in held.activities if a.code == "moisture-read")
    assert "estimator" in read.hold
    assert at(held, "living/1/prime").start_minute >= at(held, read.id).end_minute
    assert held.person_hours == pytest.approx(sum(t.person_hours for t in whole_job()))


def test_the_same_job_gives_the_same_plan_again() -> None:
    assert plan(whole_job()) == plan(whole_job())


@given(
    st.lists(st.floats(0.3, 3.0), min_size=35, max_size=35),
    st.integers(0, 13),
    st.integers(2, 5),
    st.sampled_from([12.0, 21.1]),
    st.booleans(),
    st.integers(0, 70),
)
@settings(max_examples=15, deadline=None)
def test_no_plan_breaks_a_rule(
    factors: list[float], days: int, people: int, temperature_c: float, two_phases: bool, bags: int
) -> None:
    tasks = tuple(
        replace(
            t,
            person_hours=t.person_hours * f,
            machine_hours=t.machine_hours * f,
            bags=bags if t.code == "pour" else 0,
        )
        for t, f in zip(whole_job(), factors, strict=False)
    )
    if two_phases:
        tasks += (task("furniture-out", 2.0, phase=2), task("tear-out", 3.0, phase=2))
        tasks += (task("spread", 2.0, phase=2, part="last"), task("clean", 2.0, phase=2))
    result = plan(
        tasks,
        start=MONDAY + timedelta(days=days, hours=1.3),
        people=people,
        climate=Climate(temperature_c=temperature_c),
        budget=Budget(),
    )
    found = faults(plan=result, calendar=starter_calendar(CHICAGO), crew=people)
    late = [p for p in result.problems if p.code == "lag-cannot-be-kept"]
    broken = [f for f in found if "at most" in f]
    assert len(late) <= len(broken)
    assert bool(late) == bool(broken)
    over = [a for a in result.activities if not a.splits_over_nights and a.work_minutes > 510]
    assert {f.split()[0] for f in found if "over a night" in f} <= {a.id for a in over}
    assert [f for f in found if "at most" not in f and "over a night" not in f] == []
    assert result.finish_bound_minute <= result.finish_minute
    assert (result.status == "optimal") == (result.finish_bound_minute == result.finish_minute and not late)


def test_floors_and_phases_are_named_where_there_are_more_than_one() -> None:
    tasks = (task("base-off", 6.0), task("base-off", 6.0, floor="hall"), task("base-off", 3.0, phase=2))
    chain = " ".join(plan(tasks).critical)
    assert "(floor hall, phase 1)" in chain
    assert "(floor living, phase 2)" in chain


def test_tape_is_off_within_two_days_even_over_a_weekend() -> None:
    tasks = (task("spread", 4.0, part="one"), task("trim", 2.0))
    result = plan(tasks, start=datetime(2026, 1, 16, 8, tzinfo=ZoneInfo(CHICAGO)))
    assert local(at(result, "living/1/spread/one").start_minute).startswith("Mon 19")
    off = at(result, "living/1/tape-off")
    assert 12 * 60 <= off.start_minute - at(result, "living/1/spread/one").end_minute <= 48 * 60
    assert at(result, "living/1/trim").start_minute >= off.end_minute


def test_taking_tape_off_is_a_part_of_the_hours_of_laying() -> None:
    tasks = (task("spread", 4.0, part="one"), task("spread", 6.0, part="two"), task("trim", 2.0))
    result = plan(tasks)
    hours = {one.code: 0.0 for one in result.activities}
    for one in result.activities:
        hours[one.code] += one.person_hours
    assert hours["spread"] + hours["tape-off"] == pytest.approx(10.0)
    assert hours["tape-off"] == pytest.approx(STARTER_WAITS.tape_off_share * 10.0)


def test_a_lag_that_no_calendar_day_can_keep_is_named_and_exceeded_as_little_as_possible() -> None:
    shifts = ((0, time(8), time(12)), (3, time(8), time(12)))
    calendar = Calendar(version="hand-made", time_zone="UTC", shifts=shifts)
    tasks = (task("prime", 2.0), task("pour", 6.0, part="bay", depth_m=0.006, lift=1))
    result = plan(tasks, calendar=calendar, start=datetime(2026, 1, 12, 8, tzinfo=ZoneInfo("UTC")))
    (problem,) = result.problems
    assert problem.code == "lag-cannot-be-kept"
    assert result.status == "lag-violated"
    # One hour of priming cannot end after Monday 12:00; the pour is on Thursday at 08:00: 68 h, 24 allowed.
    assert "“mix, pour and strike off bay” must start within 24 h of the end of “prime”" in problem.detail
    assert "44 h too late" in problem.detail
    assert local(at(result, "living/1/prime").end_minute, "UTC") == "Mon 12 12:00"


def test_the_second_phase_begins_after_the_first_is_through() -> None:
    tasks = (
        task("furniture-out", 2.0, phase=1),
        task("spread", 2.0, phase=1, part="a"),
        task("furniture-in", 2.0, phase=1),
        task("furniture-out", 2.0, phase=2),
        job_task("moisture-test", 0.5),
        job_task("hand-over", 1.0),
    )
    result = plan(tasks)
    assert at(result, "living/2/furniture-out").start_minute >= at(result, "living/1/furniture-in").end_minute
    assert at(result, "job/0/hand-over").start_minute >= at(result, "living/2/furniture-out").end_minute


def test_a_code_that_the_order_does_not_know_is_planned_and_told() -> None:
    odd = Task(code="wax", what="Wax", floor="living", phase=1, person_hours=1.0)
    result = plan((task("verify", 1.0), odd, task("clean", 1.0)))
    assert [p.code for p in result.problems] == ["task-order-unknown"]
    order = sorted(result.placed, key=lambda p: p.start_minute)
    assert [p.activity.split("/")[2] for p in order] == ["verify", "wax", "clean"]


def test_no_tasks_make_an_empty_plan() -> None:
    result = plan(())
    assert (result.working_days, result.placed, result.status) == (0, (), "optimal")


@pytest.mark.parametrize(
    ("calendar", "code", "pointer"),
    [
        (starter_calendar("Mars/Olympus"), "time-zone-unknown", "/calendar/time_zone"),
        (Calendar(version="x", time_zone="UTC", shifts=()), "calendar-empty", "/calendar/shifts"),
        (
            Calendar(version="x", time_zone="UTC", shifts=((0, time(8), time(8, 3)),)),
            "calendar-too-short",
            "/calendar/shifts",
        ),
    ],
)
def test_a_calendar_that_cannot_be_worked_on_is_refused(calendar: Calendar, code: str, pointer: str) -> None:
    with pytest.raises(InputRefused) as refused:
        plan(whole_job(), calendar=calendar)
    assert [(p.code, p.pointer) for p in refused.value.problems] == [(code, pointer)]


def test_a_start_without_a_zone_and_a_crew_of_nobody_are_refused() -> None:
    with pytest.raises(InputRefused, match="no offset from UTC"):
        plan(whole_job(), start=datetime(2026, 1, 12, 8))
    with pytest.raises(InputRefused, match="nobody"):
        plan(whole_job(), people=0)


def test_a_holiday_is_not_worked_on() -> None:
    calendar = replace(starter_calendar(CHICAGO), holidays=(date(2026, 1, 13), date(2026, 1, 14)))
    result = plan(whole_job(), calendar=calendar)
    assert faults(plan=result, calendar=calendar, crew=3) == []
    days = {local(p.start_minute)[:6] for p in result.placed}
    assert not days & {"Tue 13", "Wed 14"}


def test_a_cancelled_plan_stops_and_a_deadline_gone_by_still_gives_one() -> None:
    with pytest.raises(Stopped):
        plan(whole_job(), budget=Budget(stop=lambda: True))
    result = plan(whole_job() + second_floor(), budget=Budget(deadline_s=0.0))
    assert faults(plan=result, calendar=starter_calendar(CHICAGO), crew=3) == []
