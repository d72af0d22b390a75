"""The firm's store of materials as clients see it."""

from typing import Any

from slab_app.actions.promised_stock import QuoteStock
from slab_app.plain import moment
from slab_core.takeoff.firm_stock import Amount
from slab_store.stock import StockEntry, StockMove

Json = dict[str, Any]


def stock_view(entry: StockEntry) -> Json:
    """An entry as it is now."""
    path = f"/v1/stock/{entry.id}"
    return {
        "id": str(entry.id),
        "product": entry.product,
        **_amount(entry),
        "use_by": entry.use_by and entry.use_by.isoformat(),
        "note": entry.note,
        "created_at": moment(entry.created_at),
        "created_by": entry.created_by,
        "links": {
            "self": path,
            "moves": f"{path}/moves",
            "closeout": entry.closeout and f"/v1/closeouts/{entry.closeout}",
        },
    }


def move_view(move: StockMove) -> Json:
    """What came in or went out."""
    return {
        "id": str(move.id),
        "kind": move.kind,
        **_amount(move),
        "note": move.note,
        "created_at": moment(move.created_at),
        "created_by": move.created_by,
        "links": {"entry": f"/v1/stock/{move.entry}", "quote": move.quote and f"/v1/quotes/{move.quote}"},
    }


def quote_stock_view(stock: QuoteStock) -> Json | None:
    """What a quote counts on, has and lacks; None where it counts on nothing."""
    if not stock.planned:
        return None
    return {
        "planned": [_of_product(one) for one in stock.planned],
        "held": [_of_product(one) for one in stock.held],
        "lacking": [{**_of_product(one), "detail": _lacking(one)} for one in stock.lacking],
    }


def _lacking(one: Amount) -> str:
    parts = [f"{one.packages} packages" if one.packages else "", _opened_told(one)]
    return (
        f"{' and '.join(filter(None, parts))} of {one.product} that this quote counts on are not free in the "
        "firm's store: others took them first, or they have expired; buy them"
    )


def _opened_told(one: Amount) -> str:
    return f"{one.opened_thousandths / 1000:g} of opened packages" if one.opened_thousandths else ""


def _of_product(one: Amount) -> Json:
    return {"product": one.product, **_amount(one)}


def _amount(one: Amount | StockEntry | StockMove) -> Json:
    return {"packages": one.packages, "opened": one.opened_thousandths / 1000}
