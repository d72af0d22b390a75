"""Each product is on site on the day of its first use, ordered its lead before, and weighed once."""

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

import pytest

from slab_core.materials import starter as materials
from slab_core.materials.model import Climate
from slab_core.numerics.budget import Budget
from slab_core.schedule.model import Schedule
from slab_core.schedule.plan import schedule
from slab_core.schedule.purchases import USED_BY, Purchase, purchases
from slab_core.schedule.starter import calendar as starter_calendar
from slab_core.takeoff.codes import TASK
from slab_core.takeoff.model import Takeoff
from tests import takeoff_jobs
from tests.unit.slab_core.schedule.plans import CHICAGO, MONDAY

CALENDAR = starter_calendar(time_zone=CHICAGO)


def _planned(leads: dict[str, int] | None = None) -> tuple[Takeoff, Schedule]:
    takeoff = takeoff_jobs.whole_job()
    plan = schedule(
        takeoff=takeoff,
        rates=materials.rates(),
        climate=Climate(),
        compound=materials.compound(),
        primer=materials.primer(),
        adhesive=materials.plain_adhesive(),
        calendar=CALENDAR,
        earliest_start=MONDAY,
        lead_days=leads,
        budget=Budget(),
    )
    return takeoff, plan


def _list(leads: dict[str, int], *, holidays: tuple[date, ...] = ()) -> dict[str, Purchase]:
    takeoff, plan = _planned()
    calendar = replace(CALENDAR, holidays=holidays)
    found = purchases(takeoff=takeoff, schedule=plan, calendar=calendar, lead_days=leads)
    assert all(a.order_by <= b.order_by for a, b in pairwise(found))
    return {one.product: one for one in found}


def test_every_package_and_kilogram_to_order_is_on_the_list_once() -> None:
    takeoff, _ = _planned()
    found = _list({})
    bought = [line for line in takeoff.lines if line.kind == "material"]
    assert set(found) == {line.key.product for line in bought if line.order > 0}
    assert sum(one.order for one in found.values()) == sum(line.order for line in bought)
    assert sum(one.weight_kg for one in found.values()) == pytest.approx(takeoff.order_weight_kg)


def test_a_product_is_there_when_its_first_activity_begins_and_boards_when_they_acclimate() -> None:
    _, plan = _planned()
    found = _list({})
    code_of = {activity.id: activity.code for activity in plan.activities}
    assert code_of[found[materials.compound().id].first_use] == "pour"
    assert code_of[found[materials.primer().id].first_use] == "prime"
    assert code_of[found[materials.plain_adhesive().id].first_use] == "spread"
    boards = found[materials.covering().product]
    assert code_of[boards.first_use] == "acclimation"
    assert boards.needed_on <= found[materials.plain_adhesive().id].needed_on - timedelta(days=2)


def test_the_order_goes_out_its_lead_before_and_other_products_stay() -> None:
    product = materials.covering().product
    at_once, ahead = _list({}), _list({product: 14})
    assert ahead[product].needed_on == at_once[product].needed_on
    assert ahead[product].order_by == at_once[product].needed_on - timedelta(days=14)
    assert {k: v for k, v in ahead.items() if k != product} == {
        k: v for k, v in at_once.items() if k != product
    }
    assert min(one.needed_on for one in at_once.values()) >= date.fromisoformat(str(MONDAY.date()))


def test_an_order_goes_out_on_the_last_working_day_before_a_weekend_or_a_holiday() -> None:
    product = materials.covering().product
    needed = _list({})[product].needed_on
    assert needed.weekday() == 0
    saturday, friday = needed - timedelta(days=2), needed - timedelta(days=3)
    for lead, holidays, expected in (
        (1, (), friday),
        (2, (), friday),
        (2, (friday,), friday - timedelta(days=1)),
        (3, (saturday,), friday),
        (7, (), needed - timedelta(days=7)),
        (7, (needed - timedelta(days=7),), needed - timedelta(days=10)),
    ):
        assert _list({product: lead}, holidays=holidays)[product].order_by == expected


def test_a_product_whose_lead_nobody_knows_is_ordered_when_it_is_needed() -> None:
    assert all(one.order_by == one.needed_on for one in _list({}).values())


def test_the_schedule_of_the_line_has_the_list_with_the_catalogues_leads() -> None:
    leads = materials.catalogue().lead_days(materials.covering())
    assert leads[materials.covering().product] == 10
    takeoff, plan = _planned(leads)
    listed = purchases(takeoff=takeoff, schedule=plan, calendar=CALENDAR, lead_days=leads)
    assert plan.purchases == listed
    for one in plan.purchases:
        lead = one.needed_on - one.order_by
        assert timedelta(days=leads[one.product]) <= lead <= timedelta(days=leads[one.product] + 2)
        assert one.order_by.weekday() < 5


def test_materials_name_only_kinds_of_work_that_there_are() -> None:
    assert {code for codes in USED_BY.values() for code in codes} <= set(TASK)
