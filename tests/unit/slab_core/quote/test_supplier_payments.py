"""What the firm pays its suppliers: every product once, to the cent, some days after it is on site."""

from dataclasses import replace
from datetime import date, timedelta

from slab_core.materials import starter
from slab_core.materials.model import Climate
from slab_core.money.rounding import add_up
from slab_core.numerics.budget import Budget
from slab_core.quote.model import Quote
from slab_core.quote.price import price
from slab_core.quote.starter import price_book
from slab_core.schedule.model import Calendar, Schedule
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


def _quoted(plan: Schedule, *, days: int, calendar: Calendar | None = None) -> Quote:
    book = replace(price_book(), supplier_days=days)
    return price(
        takeoff=TAKEOFF, schedule=plan, price_book=book, pricing_date=book.valid_from, rates=starter.rates(),
        calendar=calendar,
    )  # fmt: skip


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


def test_what_falls_on_a_closed_day_is_paid_on_the_next_working_day_and_says_so() -> None:
    # Every product is on site on Saturday 16 May 2026, and paid for nine days later: on a Monday that is a
    # holiday here, so on Tuesday.
    plan = _planned()
    saturday = tuple(replace(one, needed_on=date(2026, 5, 16)) for one in plan.purchases)
    plan, week = replace(plan, purchases=saturday), starter_calendar(time_zone=CHICAGO)
    closed = replace(week, holidays=(date(2026, 5, 25),))
    paid = _quoted(plan, days=9, calendar=closed).supplier_payments
    assert {(one.agreed_on, one.due_on) for one in paid} == {(date(2026, 5, 25), date(2026, 5, 26))}
    assert {one.moved for one in paid} == {
        "agreed for Mon 2026-05-25, on which nobody works: due on the next working day, Tue 2026-05-26"
    }
    open_monday = _quoted(plan, days=9, calendar=week).supplier_payments
    assert {(one.agreed_on, one.due_on, one.moved) for one in open_monday} == {
        (date(2026, 5, 25), date(2026, 5, 25), "")
    }


def test_no_working_day_lies_between_the_day_agreed_and_the_day_of_payment() -> None:
    plan, week = _planned(), starter_calendar(time_zone=CHICAGO)
    closed = replace(week, holidays=tuple(MONDAY.date() + timedelta(days=n) for n in (4, 7, 8, 14)))
    open_weekdays = {weekday for weekday, _, _ in closed.shifts}
    for days in range(15):
        quoted = _quoted(plan, days=days, calendar=closed)
        for one in quoted.supplier_payments:
            assert one.agreed_on is not None
            waited = [one.agreed_on + timedelta(days=n) for n in range((one.due_on - one.agreed_on).days + 1)]
            works = [day.weekday() in open_weekdays and day not in closed.holidays for day in waited]
            assert works == [False] * (len(works) - 1) + [True]
            assert bool(one.moved) == (len(works) > 1)
        assert [one.due_on for one in quoted.supplier_payments] == sorted(
            one.due_on for one in quoted.supplier_payments
        )
