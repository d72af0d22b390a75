"""What was poured before the work that is left begins: it is neither ground nor covered while it is wet."""

from dataclasses import replace
from datetime import timedelta

import pytest

from slab_core.materials import drying
from slab_core.materials import starter as materials
from slab_core.materials.model import Climate
from slab_core.numerics.budget import Budget
from slab_core.schedule.model import Schedule
from slab_core.schedule.plan import schedule
from slab_core.schedule.resting import Resting
from slab_core.schedule.starter import calendar
from slab_core.takeoff.model import Takeoff, Task
from slab_core.units.lengths import METRES_PER_INCH as INCH_M
from tests.unit.slab_core.schedule.plans import CHICAGO, MONDAY, at, task

DEPTH_M = 3 * INCH_M / 4


def _left() -> tuple[Task, ...]:
    return (task("grind", 1.0), task("verify", 1.0), task("spread", 3.0, part="1"))


def _plan(resting: Resting) -> Schedule:
    products = materials.catalogue()
    return schedule(
        takeoff=Takeoff(alternate="plane", lines=(), tasks=_left(), floor_m2=20.0, order_weight_kg=0.0),
        rates=materials.rates(),
        climate=Climate(),
        compound=products.compound,
        primer=products.primer,
        adhesive=materials.barrier_adhesive(),
        calendar=calendar(CHICAGO),
        earliest_start=MONDAY,
        budget=Budget(),
        resting=resting,
    )


def _hours_until(plan: Schedule, code: str) -> float:
    id = next(one.id for one in plan.activities if one.code == code)
    return (at(plan, id).start_minute - MONDAY.timestamp() / 60) / 60


def _resting(hours: float) -> Resting:
    return Resting(depths=(("living", 1, DEPTH_M),), rested_hours=hours)


def test_a_pour_of_just_now_is_ground_when_the_next_pour_might_go_on_and_covered_when_it_has_dried() -> None:
    compound = materials.catalogue().compound
    plan = _plan(_resting(0.0))
    assert _hours_until(plan, "grind") >= drying.next_pour_hours(compound=compound, climate=Climate())
    dry = drying.cover_hours(compound=compound, depth_m=DEPTH_M, climate=Climate())
    assert _hours_until(plan, "spread") >= dry > 48.0
    assert any("what is poured already to dry" in line for line in plan.critical)


@pytest.mark.parametrize("hours", [12.0, 40.0])
def test_what_has_passed_since_counts(hours: float) -> None:
    waiting = _plan(_resting(hours))
    dry = drying.cover_hours(compound=materials.catalogue().compound, depth_m=DEPTH_M, climate=Climate())
    assert _hours_until(waiting, "spread") >= dry - hours
    assert waiting.finish_minute <= _plan(_resting(0.0)).finish_minute


def test_a_pour_that_has_dried_holds_up_nothing() -> None:
    dry, none = _plan(_resting(timedelta(days=30).total_seconds() / 3600)), _plan(Resting())
    for code in ("grind", "verify", "spread"):
        assert _hours_until(dry, code) == pytest.approx(_hours_until(none, code), abs=0.3)


def test_pours_of_another_floor_hold_up_nothing() -> None:
    other = replace(_resting(0.0), depths=(("hall", 1, DEPTH_M),))
    assert _hours_until(_plan(other), "grind") == pytest.approx(
        _hours_until(_plan(Resting()), "grind"), abs=0.3
    )
