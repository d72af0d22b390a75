"""Quotes, offers and change orders as the office and as customers see them."""

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

import msgspec

from slab_api.stock_views import quote_stock_view
from slab_app.actions.offers import Offered, shown_state
from slab_app.actions.promised_stock import QuoteStock
from slab_app.plain import moment
from slab_core.quote.adjustments import DISCOUNT, JOB_DISCOUNT
from slab_core.quote.labels import USUAL, unit_in_words
from slab_store.change_orders import ChangeOrderRecord
from slab_store.closeouts import CloseoutRecord
from slab_store.offers import Offer
from slab_store.quotes import QuoteItem, QuoteRecord

Json = dict[str, Any]

_CUSTOMERS_LINE = ("what", "quantity", "unit", "price", "tax")
_DISCOUNTS = frozenset({DISCOUNT, JOB_DISCOUNT})
_CUSTOMERS_UNIT = ("what", "unit", "allowed", "price", "tax")
_CUSTOMERS_CHANGE = ("what", "unit", "quantity_before", "quantity_after", "price", "tax", "reason", "cause")


def quote_item(quote: QuoteItem) -> Json:
    """A quote without its document."""
    return {
        "id": str(quote.id),
        "number": quote.number,
        "state": quote.state,
        "estimate_id": str(quote.run),
        "job_id": quote.job_id and str(quote.job_id),
        "alternate": quote.alternate,
        "created_at": moment(quote.created_at),
        "total": _money(quote),
    }


def quote_view(
    quote: QuoteRecord,
    *,
    offers: Sequence[Offer],
    orders: Sequence[ChangeOrderRecord],
    changes: ChangeOrderRecord | None,
    closeouts: Sequence[CloseoutRecord],
    stock: QuoteStock,
    now: datetime,
) -> Json:
    """A quote with its document, whom it went to and what has become of it."""
    path = f"/v1/quotes/{quote.id}"
    return {
        **quote_item(quote),
        "state": shown_state(quote.state, tuple(offers), now=now),
        "offers": [offer_record(offer) for offer in offers],
        "changes": changes and f"/v1/change-orders/{changes.id}",
        "changed_by": [f"/v1/change-orders/{order.id}" for order in orders],
        "closeouts": [f"/v1/closeouts/{closeout.id}" for closeout in closeouts],
        "firm_stock": quote_stock_view(stock),
        "document": msgspec.Raw(quote.document),
        "links": {
            "self": path,
            "estimate": f"/v1/estimates/{quote.run}",
            "send": f"{path}/send",
            "change_orders": f"{path}/change-orders",
            "work_lines": f"{path}/work-lines",
            "closeouts": f"{path}/closeouts",
        },
    }


def offer_record(offer: Offer) -> Json:
    """A sending as the office sees it; the link itself is only in the answer that made it."""
    return {
        "id": offer.id,
        "sent_at": moment(offer.sent_at),
        "sent_by": offer.sent_by,
        "valid_until": moment(offer.valid_until),
        "withdrawn_at": offer.withdrawn_at and moment(offer.withdrawn_at),
        **_answer(offer),
    }


def offer_view(found: Offered, *, beside: Sequence[Offered] = (), now: datetime) -> Json:
    """What a customer sees: what is done for how much, without what it costs the firm."""
    job = msgspec.json.decode(found.quote.document)["job"]
    return {
        "job": {"name": job["name"], "rooms": job["rooms"]},
        **_offered(found, now=now),
        "beside": [_beside(each, found, now=now) for each in beside],
    }


def _offered(found: Offered, *, now: datetime) -> Json:
    """One quote as its customer sees it."""
    quote = msgspec.json.decode(found.quote.document)["quote"]
    return {
        "number": found.quote.number,
        "state": shown_state(found.quote.state, (found.offer,), now=now),
        "label": quote.get("label") or USUAL.get(found.quote.alternate, found.quote.alternate),
        "sent_at": moment(found.offer.sent_at),
        "valid_until": moment(found.offer.valid_until),
        **_answer(found.offer),
        "lines": _customers_lines(quote["lines"]),
        "subtotal": quote["subtotal"],
        "tax": quote["tax"],
        "total": quote["total"],
        "terms": quote.get("terms"),
        "before_tear_out": _customers_allowance(quote.get("before_tear_out")),
        "change": found.change and _customers_change(found.change),
    }


def _customers_lines(lines: Sequence[Json]) -> list[Json]:
    """A discount stands in one line, where the quote has one for each class of tax."""
    found: dict[object, Json] = {}
    for row, line in enumerate(lines):
        shown = _shown(line, _CUSTOMERS_LINE)
        code, product = line["key"]["code"], line["key"]["product"]
        whole = (code, product.removesuffix(f"/{line['tax_class']}")) if code in _DISCOUNTS else row
        before = found.get(whole)
        found[whole] = shown if before is None else {**shown, **_summed(before, shown)}
    return list(found.values())


def _shown(line: Json, names: Sequence[str]) -> Json:
    return {**{name: line.get(name) for name in names}, "unit": unit_in_words(line["unit"])}


def _summed(one: Json, other: Json) -> Json:
    return {
        name: {
            **one[name],
            "amount": str(Decimal(one[name]["amount"]) + Decimal(other[name]["amount"])),
        }
        for name in ("price", "tax")
    }


def _beside(each: Offered, own: Offered, *, now: datetime) -> Json:
    """Another alternate, and what it comes to more or less than the link's own."""
    more = each.quote.total - own.quote.total
    return {**_offered(each, now=now), "more": {"amount": str(more), "currency": each.quote.currency}}


def _customers_allowance(said: Json | None) -> Json | None:
    """What is allowed and what a unit more or less is charged at; not what it costs, nor what a survey saves
    the firm."""
    if said is None:
        return None
    prices = [_shown(each, _CUSTOMERS_UNIT) for each in said["unit_prices"]]
    return {"sentence": said["sentence"], "unit_prices": prices}


def change_order_view(order: ChangeOrderRecord) -> Json:
    """An order with its lines."""
    return {
        "id": str(order.id),
        "number": order.number,
        "created_at": moment(order.created_at),
        "created_by": order.created_by,
        "total": _money(order),
        "document": msgspec.Raw(order.document),
        "links": {
            "self": f"/v1/change-orders/{order.id}",
            "of_quote": f"/v1/quotes/{order.of_quote}",
            "to_quote": f"/v1/quotes/{order.to_quote}",
        },
    }


def _customers_change(order: ChangeOrderRecord) -> Json:
    document = msgspec.json.decode(order.document)
    change = document["change"]
    return {
        "number": order.number,
        "of_quote": document["of_quote"],
        "lines": _customers_changes(change["lines"]),
        "total_before": change["total_before"],
        "total_after": change["total_after"],
        "total": change["total"],
    }


def _customers_changes(lines: Sequence[Json]) -> list[Json]:
    """As in the offer, a discount that only follows other lines stands in one line."""
    found: dict[object, Json] = {}
    for row, line in enumerate(lines):
        shown = _shown(line, _CUSTOMERS_CHANGE)
        follows = line["key"].split("/")[0] in _DISCOUNTS and line.get("cause") == "follows"
        whole = (line["what"], "follows") if follows else row
        before = found.get(whole)
        found[whole] = shown if before is None else {**shown, **_summed(before, shown)}
    return list(found.values())


def _answer(offer: Offer) -> Json:
    return {
        "answer": offer.answer,
        "answered_at": offer.answered_at and moment(offer.answered_at),
        "answered_name": offer.answered_name,
        "answered_note": offer.answered_note,
    }


def _money(record: QuoteItem | ChangeOrderRecord) -> Json:
    return {"amount": str(record.total), "currency": record.currency}
