"""What each direction in which the layout tried a floor comes to in money."""

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from slab_core.money.rounding import EXACT, add_up, round_ratio
from slab_core.quote.adjustments import charged_for
from slab_core.quote.costs import costed_lines
from slab_core.quote.from_stock import stock_lines
from slab_core.quote.model import DirectionPrice, DirectionPrices, PriceBook, QuoteLine
from slab_core.takeoff.board_supplies import BOARDS
from slab_core.takeoff.model import DirectionOrder, DirectionOrders, Takeoff, TakeoffLine

PRE_CUT = "pre-cut"
LAYING = frozenset({PRE_CUT, "spread"})
"""Codes of the work that lays boards."""


def direction_prices(*, takeoff: Takeoff, book: PriceBook) -> tuple[DirectionPrices, ...]:
    """Of every floor with boards; none for takeoffs from before directions were kept. Every line has a price
    in the book: the quote was made of them."""
    boards = next((line for line in takeoff.lines if line.key.code == BOARDS), None)
    if boards is None:
        return ()
    laying = tuple(line for line in takeoff.lines if line.kind == "labour" and line.key.code in LAYING)
    return tuple(
        DirectionPrices(
            floor=floor.floor,
            chosen_by=floor.chosen_by,
            choices=tuple(_priced(floor, boards, laying, book)),
        )
        for floor in takeoff.directions
    )


def _priced(
    floor: DirectionOrders, boards: TakeoffLine, laying: tuple[TakeoffLine, ...], book: PriceBook
) -> Iterator[DirectionPrice]:
    costs = [_costs(floor.floor, each, boards, laying, book) for each in floor.choices]
    for order, (bought, worked) in zip(floor.choices, costs, strict=True):
        boards_cost, laying_cost = _cost(bought, book), _cost(worked, book)
        cost = EXACT.add(boards_cost, laying_cost)
        more = EXACT.subtract(cost, add_up(amounts=tuple(line.cost for part in costs[0] for line in part)))
        yield DirectionPrice(
            direction_deg=order.direction_deg,
            cartons=next(line.quantity for line in bought if line.key.code == BOARDS),
            laying_ph=add_up(amounts=(Decimal(0), *(line.quantity for line in worked))),
            boards_cost=boards_cost,
            laying_cost=laying_cost,
            cost=cost,
            more_cost=more,
            more_price=round_ratio(
                value=Fraction(more) * charged_for(book=book), digits=book.digits, rounding=book.rounding
            ),
        )


def _costs(
    floor: str, order: DirectionOrder, boards: TakeoffLine, laying: tuple[TakeoffLine, ...], book: PriceBook
) -> tuple[tuple[QuoteLine, ...], tuple[QuoteLine, ...]]:
    """Lines of boards, those from stock that the book charges among them, and of laying."""
    line = replace(boards, order=order.order, from_stock=order.from_stock)
    bought = (line, *stock_lines(lines=(line,), book=book))
    worked = tuple(_as_cut(laying, floor=floor, more_ph=order.more_ph))
    return costed_lines(lines=bought, book=book), costed_lines(lines=worked, book=book)


def _as_cut(laying: tuple[TakeoffLine, ...], *, floor: str, more_ph: float) -> Iterator[TakeoffLine]:
    """The lines with the other hours of pre-cutting a floor, shared by what they are."""
    own = sum(line.order for line in laying if (line.key.code, line.key.floor) == (PRE_CUT, floor))
    for line in laying:
        is_own = (line.key.code, line.key.floor) == (PRE_CUT, floor) and own > 0.0
        yield replace(line, order=max(0.0, line.order * (1.0 + more_ph / own))) if is_own else line


def _cost(lines: tuple[QuoteLine, ...], book: PriceBook) -> Decimal:
    return add_up(amounts=(Decimal(0).scaleb(-book.digits), *(line.cost for line in lines)))
