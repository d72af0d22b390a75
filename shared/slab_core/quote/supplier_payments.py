"""When the firm itself pays for what it buys: so that draws can be set against it."""

from datetime import timedelta

from slab_core.money.rounding import add_up
from slab_core.quote.from_stock import STOCK
from slab_core.quote.model import PriceBook, QuoteLine, SupplierPayment
from slab_core.schedule.model import Schedule


def supplier_payments(
    *, lines: tuple[QuoteLine, ...], schedule: Schedule, book: PriceBook
) -> tuple[SupplierPayment, ...]:
    """What every product on the plan's purchase list costs, due `supplier_days` after it is delivered, the
    first due before the rest. Together they are the cost of all material that is ordered."""
    found = []
    for bought in schedule.purchases:
        costs = tuple(
            line.cost
            for line in lines
            if line.kind == "material" and line.key.product == bought.product and line.key.code != STOCK
        )
        found.append(
            SupplierPayment(
                product=bought.product,
                what=bought.what,
                amount=add_up(amounts=costs),
                order_by=bought.order_by,
                due_on=bought.needed_on + timedelta(days=book.supplier_days),
            )
        )
    return tuple(sorted(found, key=lambda one: (one.due_on, one.product)))
