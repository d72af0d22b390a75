"""When priming and pours stand in a plan: bags of a day, lifts, drying, crews."""

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from slab_core.materials.model import Climate
from slab_core.schedule.model import Schedule
from slab_core.schedule.starter import calendar as starter_calendar
from tests.unit.slab_core.schedule.plans import (
    CHICAGO,
    at,
    faults,
    hour_pours,
    local,
    plan,
    task,
)


def test_primer_on_a_friday_waits_for_monday_when_the_pour_would_come_too_late() -> None:
    tasks = (task("prime", 4.0), task("pour", 6.0, part="bay", depth_m=0.006, lift=1))
    friday = datetime(2026, 1, 16, 13, tzinfo=ZoneInfo(CHICAGO))
    result = plan(tasks, start=friday)
    # Two hours of priming on Friday end at 15:00 and the pour follows 2.5 h later, on Monday: 65 h, not 24.
    assert local(at(result, "living/1/prime").start_minute).startswith("Mon 19")
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
        before = at(result, f"living/1/pour/hall-bay{n}-lift1")
        assert at(result, priming.id).start_minute >= before.end_minute


def test_a_crew_too_small_for_a_pour_is_told_and_still_planned() -> None:
    result = plan((task("pour", 6.0, part="bay", depth_m=0.006, lift=1),), people=2)
    (problem,) = result.problems
    assert (problem.code, problem.pointer) == ("crew-too-small", "/rates/people")
    assert result.activities[0].people == 2
    assert result.activities[0].work_minutes == 180


def test_a_pour_longer_than_a_day_is_told() -> None:
    result = plan((task("pour", 30.0, 10.0, part="bay", depth_m=0.006, lift=1),))
    assert [p.code for p in result.problems] == ["longer-than-a-day"]
    assert at(result, "living/1/pour/bay").last_day == 2


def test_pours_that_fill_more_than_a_day_are_primed_day_by_day() -> None:
    pours = tuple(task("pour", 12.0, part=f"bay-{n}", depth_m=0.006, lift=1) for n in (1, 2, 3))
    result = plan((task("prime", 6.0), *pours))
    primings = {a.id: a.person_hours for a in result.activities if a.code == "prime"}
    assert primings == {"living/1/prime/bay-1+bay-2": 4.0, "living/1/prime/bay-3": 2.0}
    assert result.problems == ()


def test_a_second_lift_waits_for_the_first_to_dry_and_for_the_primer_on_it() -> None:
    pours = tuple(task("pour", 3.0, part=f"lift-{n}", depth_m=0.02, lift=n) for n in (1, 2))
    result = plan((task("prime", 2.0), *pours))
    waited = at(result, "living/1/pour/lift-2").start_minute - at(result, "living/1/pour/lift-1").end_minute
    # 18 h for the compound and 2.5 h for the primer, of the starter products at 70 °F.
    assert waited >= (18 + 2.5) * 60
    assert result.pour_days == 2


def test_a_second_lift_has_a_priming_of_its_own_on_the_dry_first_and_within_the_primers_time() -> None:
    pours = tuple(task("pour", 3.0, part=f"hall-bay1-lift{n}", depth_m=0.02, lift=n) for n in (1, 2))
    primings = (task("prime", 1.0, part="lift1", lift=1), task("prime", 2.0, part="lift2", lift=2))
    result = plan((*primings, *pours))
    assert faults(plan=result, calendar=starter_calendar(CHICAGO), crew=3) == []
    first, second = (at(result, f"living/1/pour/hall-bay1-lift{n}") for n in (1, 2))
    early, late = (at(result, f"living/1/prime/lift{n}") for n in (1, 2))
    assert 2.5 * 60 <= first.start_minute - early.end_minute <= 24 * 60
    # It is rolled on where the lift under it is dry, 18 h later, in the crew's own hours.
    assert late.start_minute - first.end_minute >= 18 * 60
    assert 2.5 * 60 <= second.start_minute - late.end_minute <= 24 * 60


def test_a_second_lift_that_alone_is_left_waits_for_its_primer() -> None:
    pour = task("pour", 3.0, part="hall-bay1-lift2", depth_m=0.02, lift=2)
    result = plan((task("prime", 2.0, lift=2), pour))
    primed, poured = at(result, "living/1/prime"), at(result, "living/1/pour/hall-bay1-lift2")
    assert 2.5 * 60 <= poured.start_minute - primed.end_minute <= 24 * 60


def test_a_thick_pour_in_the_cold_keeps_the_boards_waiting() -> None:
    tasks = (task("pour", 3.0, part="bay", depth_m=0.0127, lift=1), task("spread", 3.0, part="one"))
    warm, cold = plan(tasks), plan(tasks, climate=Climate(temperature_c=10.0))

    def waited(result: Schedule) -> float:
        poured = at(result, "living/1/pour/bay").end_minute
        return (at(result, "living/1/spread/one").start_minute - poured) / 60

    # 20 h up to 1/4 in and 24 h for the second quarter; twice that at 50 °F (common practice).
    assert 44 <= waited(warm) < 44 + 24
    assert waited(cold) >= 88


def test_no_more_bags_are_poured_in_a_day_than_the_rates_say() -> None:
    result = plan((task("prime", 2.0), *hour_pours(16, 16, 16)))
    assert result.pour_days == 3
    assert faults(plan=result, calendar=starter_calendar(CHICAGO), crew=3) == []
    assert result.status == "optimal"


def test_two_floors_share_the_bags_of_a_day() -> None:
    apart = plan((*hour_pours(20), *hour_pours(20, floor="hall")))
    together = plan((*hour_pours(14), *hour_pours(16, floor="hall")))
    assert (apart.pour_days, together.pour_days) == (2, 1)
    assert faults(plan=apart, calendar=starter_calendar(CHICAGO), crew=3) == []


def test_a_day_takes_more_bags_of_free_pours_and_a_share_of_each_of_both_kinds() -> None:
    # 60-100 bags a day poured free, 12-30 screeded: common practice, no single source.
    free = plan((task("prime", 2.0), *hour_pours(26, 26, 26, free=True)))
    assert free.pour_days == 1
    many = plan((task("prime", 2.0), *hour_pours(50, 50, free=True)))
    assert many.pour_days == 2
    # 15 of 30 screeded and 40 of 80 free are a day; one bag more of either is two.
    fits = plan((*hour_pours(15), *hour_pours(40, floor="hall", free=True)))
    over = plan((*hour_pours(15), *hour_pours(41, floor="hall", free=True)))
    assert (fits.pour_days, over.pour_days) == (1, 2)
    for made in (free, many, fits, over):
        assert faults(plan=made, calendar=starter_calendar(CHICAGO), crew=3) == []


def test_a_free_bay_longer_than_its_day_is_poured_in_parts() -> None:
    made = plan((task("prime", 2.0), *hour_pours(100, free=True)))
    assert [a.bags for a in made.activities if a.code == "pour"] == [80, 20]


def test_a_bay_longer_than_a_day_is_poured_in_parts() -> None:
    result = plan((task("prime", 2.0), *hour_pours(44)))
    parts = [a for a in result.activities if a.code == "pour"]
    assert [a.id for a in parts] == [f"living/1/pour/living-bay1-lift1-part{n}" for n in (1, 2)]
    assert [a.bags for a in parts] == [30, 14]
    assert sum(a.person_hours for a in parts) == pytest.approx(3.0)
    assert result.pour_days == 2
    assert any("bay 1, part 2" in line for line in result.critical)
