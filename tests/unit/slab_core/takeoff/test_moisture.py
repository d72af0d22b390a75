"""Moisture tests are taken again where a result would expire before the boards are down."""

from dataclasses import replace

import pytest

from slab_core.materials import starter
from slab_core.rooms.model import Floor, Room
from slab_core.takeoff.model import Scope, Site, SlabState, Takeoff
from slab_core.units.lengths import METRES_PER_INCH as INCH_M
from tests.laid_floors import floor_of, rectangle
from tests.takeoff_jobs import line, plan, pour, taken_off, whole_job

FLOOR = floor_of(rectangle(0, 0, 6, 5))
POURED = plan(FLOOR, pours=(pour(bags=13, ft2=250, border_ft=60),), pour_days=1)


def _tests(takeoff: Takeoff) -> list[tuple[str, int, str]]:
    return [(t.code, t.phase, t.part) for t in takeoff.tasks if t.code.startswith("moisture")]


def _by_one_person(hours_per_day: float) -> Takeoff:
    """The same room worked on by one person for so long a day, so that it takes weeks."""
    rates = replace(starter.rates(), people=1, hours_per_day=hours_per_day)
    return taken_off((FLOOR,), (POURED,), rates=rates)


def test_an_ordinary_job_is_tested_once() -> None:
    assert _tests(whole_job()) == [("moisture-test", 0, "")]
    assert line(whole_job(), "moisture-probe").order == 3


@pytest.mark.parametrize(
    ("slab", "holes", "tests"),
    [
        (SlabState(), "40% of the slab's thickness deep, 20% where it dries to both sides", 3),
        (SlabState(dries_both_ways=True, exterior_walls=2), "20% of the slab's thickness deep", 3),
        (
            SlabState(thickness_m=4 * INCH_M, exterior_walls=5),
            '1-5/8" (40.6 mm) deep, 40% of a slab of 4"',
            5,
        ),
    ],
)
def test_the_line_says_how_deep_holes_are_and_in_which_conditions(
    slab: SlabState, holes: str, tests: int
) -> None:
    """ASTM F2170-09 §10.1-10.3, as quoted by two instrument manuals."""
    takeoff = taken_off((FLOOR,), (POURED,), site=Site(slab=slab))
    inputs = line(takeoff, "moisture-test").trace.inputs
    assert inputs["holes"] == holes
    assert inputs["tests"] == str(tests)
    assert inputs["conditions"].startswith("slab and air as in service for 48 h before")
    assert line(takeoff, "moisture-probe").order == tests


def test_a_job_that_outlasts_the_result_is_tested_again_before_its_first_spread_and_the_trace_says_why() -> (
    None
):
    takeoff = _by_one_person(4.0)
    assert _tests(takeoff) == [("moisture-test", 0, ""), ("moisture-retest", 1, "")]
    again = line(takeoff, "moisture-retest")
    assert again.order == pytest.approx(3 * starter.rates().moisture_test_ph)
    assert again.price_code == "labour"
    assert "from the first test to the last spread" in again.trace.formula
    assert "a result lasts 336 h" in again.trace.formula
    assert line(takeoff, "moisture-probe").order == 6
    assert line(takeoff, "moisture-probe").trace.inputs["tests since a result expires"] == "3"


def test_laying_that_outlasts_a_result_is_tested_in_rounds() -> None:
    takeoff = _by_one_person(0.75)
    rounds = [part for code, _, part in _tests(takeoff) if code == "moisture-retest"]
    assert rounds == [f"round-{n}" for n in range(1, len(rounds) + 1)]
    # 30 m² at 32.5 ft² an hour take 9.9 h, at 0.75 h a day 13.2 days, 18.5 with weekends: 445 h, in
    # rounds of at most 0.8 x 336 h.
    assert len(rounds) == 2


def _phased(hours_per_day: float) -> Takeoff:
    rooms = tuple(
        Room(id=name, name=name, outline=rectangle(x, 0, x + 3, 5), phase=phase)
        for name, x, phase in (("a", 0.0, 1), ("b", 3.0, 2))
    )
    floor = Floor(id="a", rooms=rooms, shell=rectangle(0, 0, 6, 5), gaps=(), area_m2=30.0, wall_m=22.0)
    pours = (pour(id="one", bags=4, ft2=60), pour(id="two", bags=6, ft2=90, phase=2))
    rates = replace(starter.rates(), people=1, hours_per_day=hours_per_day)
    return taken_off((floor,), (plan(floor, pours=pours, pour_days=2),), rates=rates)


def test_a_phase_far_from_the_first_has_tests_of_its_own() -> None:
    assert _tests(_phased(24.0)) == [("moisture-test", 0, "")]
    apart = _phased(5.0)
    assert [row for row in _tests(apart) if row[0] == "moisture-test"] == [
        ("moisture-test", 0, ""),
        ("moisture-test", 2, ""),
    ]
    (own,) = [x for x in apart.lines if x.key.code == "moisture-test" and x.key.phase == 2]
    assert "phase 2 is laid about" in own.trace.formula
    (first,) = [x for x in apart.lines if x.key.code == "moisture-test" and x.key.phase == 0]
    assert first.trace.inputs["floor"] == own.trace.inputs["floor"] == "15.00 m²"


@pytest.mark.parametrize(
    "changes",
    [
        {"scope": Scope(moisture_tests=False)},
        {"site": Site(built_year=1995, slab_has=("heating-pipes",))},
    ],
)
def test_where_nobody_tests_nobody_tests_again(changes: dict[str, object]) -> None:
    rates = replace(starter.rates(), people=1, hours_per_day=2.0)
    assert _tests(taken_off((FLOOR,), (POURED,), rates=rates, **changes)) == []  # type: ignore[arg-type]  # scope or site
