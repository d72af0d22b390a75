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
from slab_core.schedule.model import Calendar, Placed, Schedule
from slab_core.schedule.starter import calendar as starter_calendar
from slab_core.takeoff.model import Task
from tests.unit.slab_core.schedule.plans import (
    CHICAGO,
    MONDAY,
    faults,
    job_task,
    local,
    plan,
    task,
    whole_job,
)


def _at(result: Schedule, id: str) -> Placed:
    return next(p for p in result.placed if p.activity == id)


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
    assert _at(result, "living/1/pour/bay-2").last_day == 2
    assert _at(result, "living/1/edges").first_day == 3
    assert _at(result, "living/1/polish").first_day == 4
    chain = "\n".join(result.critical)
    assert "Day 3: fill the borders waits 18 h for the pour to dry" in chain
    assert "Day 4: polish the fill waits 18 h for the borders to dry" in chain


def test_begun_on_a_monday_the_last_boards_wait_for_the_tape_to_come_off_after_the_weekend() -> None:
    result = plan(whole_job(), adhesive=materials.barrier_adhesive(), start=MONDAY)
    assert faults(plan=result, calendar=starter_calendar(CHICAGO), crew=3) == []
    assert result.working_days == 7
    assert any("is held back so that set transitions follows within 48 h" in line for line in result.critical)


def test_a_moisture_result_that_the_primer_waits_for_costs_a_day() -> None:
    tuesday = MONDAY + timedelta(days=1)
    free = plan(whole_job(), adhesive=materials.barrier_adhesive(), start=tuesday)
    held = plan(whole_job(), adhesive=materials.plain_adhesive(), start=tuesday)
    assert held.working_days == free.working_days + 1
    read = next(a for a in held.activities if a.code == "moisture-read")
    assert "estimator" in read.hold
    assert _at(held, "living/1/prime").start_minute >= _at(held, read.id).end_minute
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


def test_primer_on_a_friday_waits_for_monday_when_the_pour_would_come_too_late() -> None:
    tasks = (task("prime", 4.0), task("pour", 6.0, part="bay", depth_m=0.006, lift=1))
    friday = datetime(2026, 1, 16, 13, tzinfo=ZoneInfo(CHICAGO))
    result = plan(tasks, start=friday)
    # Two hours of priming on Friday end at 15:00 and the pour follows 2.5 h later, on Monday: 65 h, not 24.
    assert local(_at(result, "living/1/prime").start_minute).startswith("Mon 19")
    assert result.status == "optimal"
    assert result.problems == ()
    assert any("is held back so that" in line for line in result.critical)


def test_the_next_days_bays_are_primed_after_todays_pours() -> None:
    pours = [task("pour", 18.0, part=f"hall-bay{n}-lift1", depth_m=0.006, lift=1) for n in range(1, 6)]
    result = plan((task("prime", 10.0), *pours, task("spread", 5.0)))
    assert faults(plan=result, calendar=starter_calendar(CHICAGO), crew=3) == []
    assert result.problems == ()
    primed = [a for a in result.activities if a.code == "prime"]
    assert len(primed) == 5
    for n, priming in enumerate(primed[1:], start=1):
        before = _at(result, f"living/1/pour/hall-bay{n}-lift1")
        assert _at(result, priming.id).start_minute >= before.end_minute


def test_a_result_that_expires_before_many_spreads_is_one_finding_and_the_primer_is_still_kept() -> None:
    pours = [task("pour", 18.0, part=f"hall-bay{n}-lift1", depth_m=0.006, lift=1) for n in range(1, 4)]
    spreads = [task("spread", 8.0, part=str(n)) for n in range(1, 61)]
    tasks = (job_task("moisture-test", 1.0), task("prime", 6.0), *pours, *spreads)
    result = plan(tasks)
    assert result.status == "lag-violated"
    (late,) = [p for p in result.problems if p.code == "lag-cannot-be-kept"]
    assert "“spread adhesive and lay, spread 60” must start within 336 h" in late.detail
    assert "more like it, by less" in late.detail


def test_work_that_goes_on_from_piece_to_piece_is_one_sentence() -> None:
    spreads = [task("spread", 2.0, part=str(n)) for n in range(1, 9)]
    pours = [task("pour", 4.0, part=f"hall-bay{n}-lift1", depth_m=0.006, lift=1) for n in (1, 2)]
    result = plan((task("prime", 1.0), *pours, *spreads, task("hand-over", 2.0)))
    laid = [line for line in result.critical if "spread adhesive and lay" in line]
    assert len([line for line in laid if ": spread adhesive" in line]) == 1
    assert "then 7 more one after the other" in laid[0]
    assert "living/1" not in " ".join(result.critical)
    assert any("bay 2" in line for line in result.critical)


def test_floors_and_phases_are_named_where_there_are_more_than_one() -> None:
    tasks = (task("base-off", 6.0), task("base-off", 6.0, floor="hall"), task("base-off", 3.0, phase=2))
    chain = " ".join(plan(tasks).critical)
    assert "(floor hall, phase 1)" in chain
    assert "(floor living, phase 2)" in chain


def test_tape_is_off_within_two_days_even_over_a_weekend() -> None:
    tasks = (task("spread", 4.0, part="one"), task("trim", 2.0))
    result = plan(tasks, start=datetime(2026, 1, 16, 8, tzinfo=ZoneInfo(CHICAGO)))
    assert local(_at(result, "living/1/spread/one").start_minute).startswith("Mon 19")
    waited = _at(result, "living/1/trim").start_minute - _at(result, "living/1/spread/one").end_minute
    assert 12 * 60 <= waited <= 48 * 60


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
    assert local(_at(result, "living/1/prime").end_minute, "UTC") == "Mon 12 12:00"


def test_a_crew_too_small_for_a_pour_is_told_and_still_planned() -> None:
    result = plan((task("pour", 6.0, part="bay", depth_m=0.006, lift=1),), people=2)
    (problem,) = result.problems
    assert (problem.code, problem.pointer) == ("crew-too-small", "/rates/people")
    assert result.activities[0].people == 2
    assert result.activities[0].work_minutes == 180


def test_a_pour_longer_than_a_day_is_told() -> None:
    result = plan((task("pour", 30.0, 10.0, part="bay", depth_m=0.006, lift=1),))
    assert [p.code for p in result.problems] == ["longer-than-a-day"]
    assert _at(result, "living/1/pour/bay").last_day == 2


def test_pours_that_fill_more_than_a_day_are_primed_day_by_day() -> None:
    pours = tuple(task("pour", 12.0, part=f"bay-{n}", depth_m=0.006, lift=1) for n in (1, 2, 3))
    result = plan((task("prime", 6.0), *pours))
    primings = {a.id: a.person_hours for a in result.activities if a.code == "prime"}
    assert primings == {"living/1/prime/bay-1+bay-2": 4.0, "living/1/prime/bay-3": 2.0}
    assert result.problems == ()


def test_a_second_lift_waits_for_the_first_to_dry() -> None:
    pours = tuple(task("pour", 3.0, part=f"lift-{n}", depth_m=0.02, lift=n) for n in (1, 2))
    result = plan((task("prime", 2.0), *pours))
    waited = _at(result, "living/1/pour/lift-2").start_minute - _at(result, "living/1/pour/lift-1").end_minute
    assert waited >= 18 * 60
    assert result.pour_days == 2


def test_a_thick_pour_in_the_cold_keeps_the_boards_waiting() -> None:
    tasks = (task("pour", 3.0, part="bay", depth_m=0.0127, lift=1), task("spread", 3.0, part="one"))
    warm, cold = plan(tasks), plan(tasks, climate=Climate(temperature_c=10.0))

    def waited(result: Schedule) -> float:
        poured = _at(result, "living/1/pour/bay").end_minute
        return (_at(result, "living/1/spread/one").start_minute - poured) / 60

    # 20 h up to 1/4 in and 24 h for the second quarter; twice that at 50 °F (common practice).
    assert 44 <= waited(warm) < 44 + 24
    assert waited(cold) >= 88


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
    assert (
        _at(result, "living/2/furniture-out").start_minute >= _at(result, "living/1/furniture-in").end_minute
    )
    assert _at(result, "job/0/hand-over").start_minute >= _at(result, "living/2/furniture-out").end_minute


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
    result = plan(whole_job() + _second_floor(), budget=Budget(deadline_s=0.0))
    assert faults(plan=result, calendar=starter_calendar(CHICAGO), crew=3) == []


def _second_floor() -> tuple[Task, ...]:
    return tuple(replace(t, floor="hall", person_hours=0.6 * t.person_hours) for t in whole_job() if t.floor)


def _pours(*bags: int, floor: str = "living") -> tuple[Task, ...]:
    """Pours of an hour each by three people: by their time alone all would fit into a day."""
    return tuple(
        task("pour", 3.0, part=f"{floor}-bay{n}-lift1", depth_m=0.006, lift=1, bags=count, floor=floor)
        for n, count in enumerate(bags, start=1)
    )


def test_no_more_bags_are_poured_in_a_day_than_the_rates_say() -> None:
    result = plan((task("prime", 2.0), *_pours(16, 16, 16)))
    assert result.pour_days == 3
    assert faults(plan=result, calendar=starter_calendar(CHICAGO), crew=3) == []
    assert result.status == "optimal"


def test_two_floors_share_the_bags_of_a_day() -> None:
    apart = plan((*_pours(20), *_pours(20, floor="hall")))
    together = plan((*_pours(14), *_pours(16, floor="hall")))
    assert (apart.pour_days, together.pour_days) == (2, 1)
    assert faults(plan=apart, calendar=starter_calendar(CHICAGO), crew=3) == []


def test_a_bay_longer_than_a_day_is_poured_in_parts() -> None:
    result = plan((task("prime", 2.0), *_pours(44)))
    parts = [a for a in result.activities if a.code == "pour"]
    assert [a.id for a in parts] == [f"living/1/pour/living-bay1-lift1-part{n}" for n in (1, 2)]
    assert [a.bags for a in parts] == [30, 14]
    assert sum(a.person_hours for a in parts) == pytest.approx(3.0)
    assert result.pour_days == 2
    assert any("bay 1, part 2" in line for line in result.critical)


def _long_laying() -> tuple[Task, ...]:
    """Twelve working days of spreads: a result of 14 days holds, but not over the pours before them."""
    pours = [task("pour", 18.0, part=f"hall-bay{n}-lift1", depth_m=0.006, lift=1) for n in range(1, 8)]
    return (
        job_task("moisture-test", 1.0),
        task("prime", 6.0),
        *pours,
        task("edges", 3.0),
        task("verify", 2.0),
        *(task("spread", 6.0, part=str(n)) for n in range(1, 29)),
    )


@pytest.mark.parametrize("rounds", [1, 2, 3])
def test_a_test_taken_again_keeps_every_spread_within_a_result(rounds: int) -> None:
    again = [task("moisture-retest", 1.0, part=f"round-{n}", floor="") for n in range(1, rounds + 1)]
    assert plan(_long_laying()).status == "lag-violated"
    result = plan((*_long_laying(), *again))
    assert faults(plan=result, calendar=starter_calendar(CHICAGO), crew=3) == []
    assert result.problems == ()
    readings = [a for a in result.activities if a.code == "moisture-reread"]
    assert len(readings) == rounds
    assert all("estimator" in a.hold for a in readings)
    for reading in readings:
        (wait,) = [lag for lag in reading.lags if "settle" in lag.why]
        assert wait.least_minutes == 24 * 60
    held = [lag for a in result.activities for lag in a.lags if lag.greatest_minutes == 336 * 60]
    assert len(held) == 28
    assert {lag.after for lag in held} == {a.id for a in readings}
    first = _at(result, readings[0].id)
    assert first.end_minute <= _at(result, "living/1/spread/1").start_minute
    assert first.start_minute >= _at(result, "living/1/verify").end_minute


def test_a_phase_with_a_test_of_its_own_is_not_held_to_the_first_one() -> None:
    tasks = (
        job_task("moisture-test", 1.0),
        task("spread", 6.0, part="1"),
        task("clean", 400.0),
        task("tear-out", 3.0, phase=2),
        task("spread", 6.0, part="1", phase=2),
    )
    assert plan(tasks).status == "lag-violated"
    result = plan((*tasks, task("moisture-test", 1.0, floor="", phase=2)))
    assert faults(plan=result, calendar=starter_calendar(CHICAGO), crew=3) == []
    assert result.status != "lag-violated"
    tested = _at(result, "job/2/moisture-test")
    assert tested.start_minute >= _at(result, "living/2/tear-out").end_minute


def test_much_cutting_is_done_in_stacks_that_leave_the_pours_alone() -> None:
    spreads = [task("spread", 4.0, part=str(n)) for n in range(1, 13)]
    rest = (task("bond-grind", 4.0, 4.0), task("prime", 3.0), *_pours(20, 20, 20), *spreads)
    whole, without = plan((*rest, task("pre-cut", 60.0))), plan(rest)
    assert faults(plan=whole, calendar=starter_calendar(CHICAGO), crew=3) == []
    stacks = [a for a in whole.activities if a.code == "pre-cut"]
    assert len(stacks) > 3
    assert sum(a.person_hours for a in stacks) == pytest.approx(60.0)
    fed = [part for a in stacks for part in a.id.rsplit("/", 1)[1].split("+")]
    assert fed == [str(n) for n in range(1, 13)]
    first = "living/1/pour/living-bay1-lift1"
    assert _at(whole, first).first_day == _at(without, first).first_day
    for spread in (a for a in whole.activities if a.code == "spread"):
        cut = {lag.after for lag in spread.lags} & {a.id for a in stacks}
        assert len(cut) == 1


def test_cutting_of_a_day_stays_in_one_piece() -> None:
    result = plan((task("pre-cut", 15.0), task("spread", 4.0, part="1"), task("spread", 4.0, part="2")))
    assert [a.id for a in result.activities if a.code == "pre-cut"] == ["living/1/pre-cut"]
