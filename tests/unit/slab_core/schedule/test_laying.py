"""Long laying in a plan: results that expire, tests taken again, boards cut ahead."""

import pytest

from slab_core.schedule.starter import calendar as starter_calendar
from slab_core.takeoff.model import Task
from tests.unit.slab_core.schedule.plans import (
    CHICAGO,
    at,
    faults,
    hour_pours,
    job_task,
    plan,
    task,
)


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
    first = at(result, readings[0].id)
    assert first.end_minute <= at(result, "living/1/spread/1").start_minute
    assert first.start_minute >= at(result, "living/1/verify").end_minute


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
    tested = at(result, "job/2/moisture-test")
    assert tested.start_minute >= at(result, "living/2/tear-out").end_minute


def test_much_cutting_is_done_in_stacks_that_leave_the_pours_alone() -> None:
    spreads = [task("spread", 4.0, part=str(n)) for n in range(1, 13)]
    rest = (task("bond-grind", 4.0, 4.0), task("prime", 3.0), *hour_pours(20, 20, 20), *spreads)
    whole, without = plan((*rest, task("pre-cut", 60.0))), plan(rest)
    assert faults(plan=whole, calendar=starter_calendar(CHICAGO), crew=3) == []
    stacks = [a for a in whole.activities if a.code == "pre-cut"]
    assert len(stacks) > 3
    assert sum(a.person_hours for a in stacks) == pytest.approx(60.0)
    fed = [part for a in stacks for part in a.id.rsplit("/", 1)[1].split("+")]
    assert fed == [str(n) for n in range(1, 13)]
    first = "living/1/pour/living-bay1-lift1"
    assert at(whole, first).first_day == at(without, first).first_day
    for spread in (a for a in whole.activities if a.code == "spread"):
        cut = {lag.after for lag in spread.lags} & {a.id for a in stacks}
        assert len(cut) == 1


def test_cutting_of_a_day_stays_in_one_piece() -> None:
    result = plan((task("pre-cut", 15.0), task("spread", 4.0, part="1"), task("spread", 4.0, part="2")))
    assert [a.id for a in result.activities if a.code == "pre-cut"] == ["living/1/pre-cut"]
