"""When the firm itself pays for what it buys: so that draws can be set against it."""

from datetime import date, timedelta

from slab_core.money.rounding import add_up
from slab_core.quote.from_stock import STOCK
from slab_core.quote.model import PriceBook, QuoteLine, SupplierPayment
from slab_core.schedule.calendars import first_working_day
from slab_core.schedule.model import Calendar, Schedule


def supplier_payments(
    *, lines: tuple[QuoteLine, ...], schedule: Schedule, book: PriceBook, calendar: Calendar | None
) -> tuple[SupplierPayment, ...]:
    """What every product on the plan's purchase list costs, due `supplier_days` after it is delivered, the
    first due before the rest. Together they are the cost of all material that is ordered.

    A day on which `calendar` has no shift becomes the next one that has (common practice, no single source:
    what is due while banks are closed is due when they open). Without a calendar every day will do.
    """
    found = []
    for bought in schedule.purchases:
        costs = tuple(
            line.cost
            for line in lines
            if line.kind == "material" and line.key.product == bought.product and line.key.code != STOCK
        )
        agreed_on = bought.needed_on + timedelta(days=book.supplier_days)
        due_on = agreed_on if calendar is None else first_working_day(calendar=calendar, day=agreed_on)
        found.append(
            SupplierPayment(
                product=bought.product,
                what=bought.what,
                amount=add_up(amounts=costs),
                order_by=bought.order_by,
                due_on=due_on,
                agreed_on=agreed_on,
                moved=_moved(agreed_on, due_on),
            )
        )
    return tuple(sorted(found, key=lambda one: (one.due_on, one.product)))


def _moved(agreed_on: date, due_on: date) -> str:
    """Why it is paid later than agreed; "" where it is not."""
    if due_on == agreed_on:
        return ""
    return (
        f"agreed for {agreed_on:%a %Y-%m-%d}, on which nobody works: due on the next working day, "
        f"{due_on:%a %Y-%m-%d}"
    )
