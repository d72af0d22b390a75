"""What the firm pays its suppliers: every product once, to the cent, some days after it is on site."""

from dataclasses import replace
from datetime import timedelta

from slab_core.materials import starter
from slab_core.materials.model import Climate
from slab_core.money.rounding import add_up
from slab_core.numerics.budget import Budget
from slab_core.quote.model import Quote
from slab_core.quote.price import price
from slab_core.quote.starter import price_book
from slab_core.schedule.model import Schedule
from slab_core.schedule.plan import schedule
from slab_core.schedule.starter import calendar as starter_calendar
from tests.takeoff_jobs import whole_job
from tests.unit.slab_core.schedule.plans import CHICAGO, MONDAY

TAKEOFF = whole_job()


def _planned() -> Schedule:
    catalogue = starter.catalogue()
    return schedule(
        takeoff=TAKEOFF, rates=starter.rates(), climate=Climate(), compound=catalogue.compound,
        primer=catalogue.primer, adhesive=catalogue.adhesive, calendar=starter_calendar(time_zone=CHICAGO),
        earliest_start=MONDAY, budget=Budget(), lead_days=catalogue.lead_days(starter.covering()),
    )  # fmt: skip


def _quoted(plan: Schedule, *, days: int) -> Quote:
    book = replace(price_book(), supplier_days=days)
    return price(
        takeoff=TAKEOFF, schedule=plan, price_book=book, pricing_date=book.valid_from, rates=starter.rates()
    )


def test_payments_are_the_cost_of_all_material_to_the_cent_the_first_due_first() -> None:
    made = _quoted(_planned(), days=30)
    material = tuple(line.cost for line in made.lines if line.kind == "material")
    paid = tuple(one.amount for one in made.supplier_payments)
    assert add_up(amounts=paid) == add_up(amounts=material) > 0
    due = [one.due_on for one in made.supplier_payments]
    assert due == sorted(due)


def test_a_product_is_paid_so_many_days_after_it_is_needed_and_ordered_as_the_plan_says() -> None:
    plan = _planned()
    needed = {one.product: one for one in plan.purchases}
    for days in (0, 30):
        made = _quoted(plan, days=days)
        assert {one.product for one in made.supplier_payments} == set(needed)
        for one in made.supplier_payments:
            assert one.due_on == needed[one.product].needed_on + timedelta(days=days)
            assert one.order_by == needed[one.product].order_by
    assert _quoted(plan, days=0).total == _quoted(plan, days=30).total
