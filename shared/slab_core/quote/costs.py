"""What each line of the takeoff costs the firm by its price book."""

from decimal import Decimal

from slab_core.money.rounding import EXACT, from_float, round_to
from slab_core.quote.check import price_of
from slab_core.quote.model import Price, PriceBook, QuoteLine
from slab_core.quote.needed import FORMULA, needed_input
from slab_core.takeoff.model import TakeoffLine, Trace

QUANTITY_PLACES = 4


def costed_lines(*, lines: tuple[TakeoffLine, ...], book: PriceBook) -> tuple[QuoteLine, ...]:
    """The lines in an order of their keys, not yet with a price for the customer."""
    prices = price_of(book=book)
    ordered = sorted(
        lines, key=lambda line: (line.key.text(), line.kind, line.price_code, line.what, line.order)
    )
    return tuple(_line(line, prices[line.price_code], book) for line in ordered)


def _line(line: TakeoffLine, unit_price: Price, book: PriceBook) -> QuoteLine:
    quantity = from_float(value=line.order, places=QUANTITY_PLACES).normalize()
    quantity = quantity.quantize(Decimal(1)) if quantity == quantity.to_integral_value() else quantity
    exact = EXACT.multiply(quantity, unit_price.amount)
    nothing = Decimal(0).scaleb(-book.digits)
    return QuoteLine(
        key=line.key,
        kind=line.kind,
        what=line.what,
        quantity=quantity,
        unit=unit_price.unit,
        unit_cost=unit_price.amount,
        cost=round_to(amount=exact, digits=book.digits, rounding=book.rounding),
        price=nothing,
        tax_class=unit_price.tax_class,
        tax=nothing,
        trace=_trace(line, quantity, unit_price, book),
    )


def _trace(line: TakeoffLine, quantity: Decimal, unit_price: Price, book: PriceBook) -> Trace:
    """The line's own trace, continued: its inputs stay, its formula becomes one of them."""
    inputs = {
        **line.trace.inputs,
        "quantity": f"{quantity} {unit_price.unit}",
        f"{FORMULA}{line.trace.stage}": line.trace.formula,
        "price code": unit_price.code,
        "unit cost": f"{unit_price.amount} {book.currency}",
        "price book": book.version,
        **needed_input(line),
    }
    return Trace(stage="quote", formula="quantity x unit cost; price by share of the cost", inputs=inputs)
