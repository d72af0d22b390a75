"""What each direction in which the layout tried a floor comes to in money."""

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from slab_core.money.rounding import EXACT, add_up, round_ratio
from slab_core.quote.adjustments import charged_for
from slab_core.quote.costs import costed_lines
from slab_core.quote.model import DirectionPrice, DirectionPrices, PriceBook, QuoteLine
from slab_core.takeoff.board_supplies import BOARDS
from slab_core.takeoff.model import DirectionOrder, Takeoff, TakeoffLine

LAYING = frozenset({"pre-cut", "spread"})
"""Codes of the work that lays boards; its rates go by area, so no direction takes more of it."""


def direction_prices(
    *, takeoff: Takeoff, lines: tuple[QuoteLine, ...], book: PriceBook
) -> tuple[DirectionPrices, ...]:
    """Of every floor with boards; none for takeoffs from before directions were kept. Every line has a price
    in the book: the quote was made of them."""
    boards = next((line for line in takeoff.lines if line.key.code == BOARDS), None)
    if boards is None:
        return ()
    laying = tuple(line for line in lines if line.kind == "labour" and line.key.code in LAYING)
    return tuple(
        DirectionPrices(
            floor=floor.floor,
            chosen_by=floor.chosen_by,
            choices=tuple(_priced(floor.choices, boards, laying, book)),
        )
        for floor in takeoff.directions
    )


def _priced(
    orders: tuple[DirectionOrder, ...], boards: TakeoffLine, laying: tuple[QuoteLine, ...], book: PriceBook
) -> Iterator[DirectionPrice]:
    nothing = Decimal(0).scaleb(-book.digits)
    hours = add_up(amounts=(Decimal(0), *(line.quantity for line in laying)))
    work = add_up(amounts=(nothing, *(line.cost for line in laying)))
    told = [costed_lines(lines=(replace(boards, order=each.order),), book=book)[0] for each in orders]
    for order, line in zip(orders, told, strict=True):
        more = EXACT.subtract(line.cost, told[0].cost)
        charged = Fraction(more) * charged_for(book=book)
        yield DirectionPrice(
            direction_deg=order.direction_deg,
            cartons=line.quantity,
            laying_ph=hours,
            boards_cost=line.cost,
            laying_cost=work,
            cost=EXACT.add(line.cost, work),
            more_cost=more,
            more_price=round_ratio(value=charged, digits=book.digits, rounding=book.rounding),
        )
