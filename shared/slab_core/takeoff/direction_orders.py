"""Boards to order for each direction in which the layout tried a floor."""

from collections.abc import Iterator

from slab_core.layout.model import DirectionChoice, Layout
from slab_core.takeoff.board_supplies import boards
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.entries import supply_line
from slab_core.takeoff.model import DirectionOrder, DirectionOrders
from slab_core.takeoff.stock import less_stock, usable


def direction_orders(brief: Brief) -> Iterator[DirectionOrders]:
    """Of every floor with boards. Cartons are made whole once for the job, so each order is the job's, with
    one floor laid in that direction and the others as they are."""
    for layout in brief.layouts:
        if layout.directions:
            yield DirectionOrders(
                floor=layout.floor_id,
                chosen_by=layout.chosen_by,
                choices=tuple(_order(brief, layout, choice) for choice in layout.directions),
            )


def _order(brief: Brief, layout: Layout, choice: DirectionChoice) -> DirectionOrder:
    bought = sum(choice.bought_m2 if other is layout else other.bought_m2 for other in brief.layouts)
    line = supply_line(boards(brief, bought_m2=bought))
    (left,) = less_stock(lines=(line,), stock=usable(brief.scope.stock, on=brief.begins))
    times, taken = brief.rates.cuts, layout.directions[0]
    return DirectionOrder(
        direction_deg=choice.direction_deg,
        order=left.order,
        from_stock=left.from_stock,
        more_ph=times.hours(cuts=choice.cuts - taken.cuts, ripped_m=choice.ripped_m - taken.ripped_m),
    )
