"""What is trowelled is bought, timed, priced and dried as such, and nothing of a pour comes with it."""

from dataclasses import replace

import pytest

from slab_core.correction.model import Plan
from slab_core.materials import starter
from slab_core.numerics.budget import Budget
from slab_core.pipeline.line import Line, run
from slab_core.quote.model import Quote
from slab_core.schedule.model import Schedule
from slab_core.stages import CHEAPEST
from slab_core.takeoff.model import Takeoff, TakeoffLine
from tests.sample_jobs import one_room_job


@pytest.fixture(scope="module")
def line() -> Line:
    """A room whose hump and hollow the cheapest floor grinds, patches and skims."""
    return run(job=replace(one_room_job(), alternates=(CHEAPEST,)), budget=Budget())


@pytest.fixture(scope="module")
def takeoff(line: Line) -> Takeoff:
    return line.model(Takeoff, "takeoff", "job", CHEAPEST)


@pytest.fixture(scope="module")
def plan(line: Line) -> Plan:
    return line.model(Plan, "correction", "studio", CHEAPEST)


def lines(takeoff: Takeoff, code: str) -> list[TakeoffLine]:
    return [one for one in takeoff.lines if one.key.code == code]


def test_the_floor_is_trowelled_and_not_poured(plan: Plan) -> None:
    assert plan.patches
    assert not plan.pours


def test_bags_of_patch_are_those_of_the_plan(takeoff: Takeoff, plan: Plan) -> None:
    (bags,) = lines(takeoff, "patch-bags")
    assert bags.order == plan.patch_bags
    assert bags.price_code == starter.catalogue().patch.id


def test_hours_are_those_of_the_places_and_one_set_up(takeoff: Takeoff, plan: Plan) -> None:
    hours = sum(one.order for code in ("patch", "skim") for one in lines(takeoff, code))
    by_hand = sum(patch.person_hours for patch in plan.patches)
    assert hours == pytest.approx(by_hand + starter.rates().hand_mix_ph)


def test_nothing_of_a_pour_is_bought_or_done(takeoff: Takeoff) -> None:
    codes = {one.key.code for one in takeoff.lines}
    assert codes.isdisjoint({"pins", "screed-pin", "prime", "primer", "pour", "edges", "compound", "mixing"})


def test_the_price_book_prices_all_of_it(line: Line) -> None:
    quote = line.model(Quote, "quote", "job", CHEAPEST)
    assert "price-missing" not in {problem.code for problem in line.problems()}
    assert any(one.key.code == "patch-bags" for one in quote.lines)


def test_boards_wait_some_hours_for_the_patch_and_no_night(line: Line) -> None:
    schedule = line.model(Schedule, "schedule", "job", CHEAPEST)
    assert schedule.pour_days == 0
    lags = [lag for one in schedule.activities for lag in one.lags if lag.why == "the patch to dry"]
    assert lags
    assert all(60 <= lag.least_minutes <= 180 for lag in lags)
