"""JSON Schemas of quotes, offers and change orders as they are answered."""

from typing import Any

from slab_api.contract_parts import COUNT, ID, LINK, MOMENT, TEXT, Schema, many, maybe, record, ref
from slab_api.results.describe import describe, schema_name
from slab_core.job import MODELS
from slab_core.quote.change_order import ChangeOrder
from slab_core.quote.model import Terms

_STATE: Schema = {
    "type": "string",
    "enum": ["draft", "sent", "expired", "accepted", "declined", "superseded"],
}
_ROOMS = many(record("A room that is quoted.", {"id": TEXT, "name": TEXT, "phase": COUNT}))
_ITEM: dict[str, Schema] = {
    "id": ID,
    "number": COUNT,
    "state": _STATE,
    "estimate_id": ID,
    "job_id": maybe(ID),
    "alternate": TEXT,
    "created_at": MOMENT,
    "total": ref("Money"),
}
_ANSWER: dict[str, Schema] = {
    "answer": maybe({"type": "string", "enum": ["accepted", "declined"]}),
    "answered_at": maybe(MOMENT),
    "answered_name": maybe(TEXT),
    "answered_note": maybe(TEXT),
}


def quote_schemas(schemas: dict[str, Schema]) -> dict[str, Schema]:
    """All of them by name; what they are made of is added to `schemas`."""
    describe(ChangeOrder, into=schemas)
    return {
        "QuoteItem": record("A quote without its document.", _ITEM),
        "Quote": _quote(),
        "OfferRecord": record(
            "A sending of a quote as the office sees it.",
            {
                "id": TEXT,
                "sent_at": MOMENT,
                "sent_by": TEXT,
                "valid_until": MOMENT,
                "withdrawn_at": maybe(MOMENT),
                **_ANSWER,
            },
        ),
        "SentQuote": record(
            "A quote that is sent, and the link for its customer, which is told only here.",
            {"quote": ref("QuoteItem"), "offer": ref("OfferRecord"), "link": LINK},
        ),
        "Offer": _offer(),
        "ChangeOrder": _change_order(),
    }


def _quote() -> Schema:
    job = {"id": maybe(ID), "name": TEXT, "site": {"type": "object"}, "rooms": _ROOMS}
    document = {
        "schema": COUNT,
        "estimate": ID,
        "job": record("What is quoted.", job),
        "priced_at": MOMENT,
        "quote": ref(schema_name(MODELS["quote"])),
    }
    whole = record("Complete in itself.", document)
    whole["properties"]["firm_stock"] = {
        "description": "What it counts on of the firm's store; null or absent if that was not asked for."
    }
    return record(
        "A quote: its document, which never changes, and what has become of it.",
        {
            **_ITEM,
            "offers": many(ref("OfferRecord")),
            "changes": maybe({**LINK, "description": "The change order that this quote is the new sum of."}),
            "changed_by": many(LINK),
            "closeouts": many(LINK),
            "firm_stock": maybe(ref("QuoteStock")),
            "document": whole,
            "links": {"type": "object"},
        },
    )


def _offer() -> Schema:
    line: dict[str, Any] = {"what": TEXT, "quantity": TEXT, "unit": TEXT}
    money = {"price": ref("Money"), "tax": ref("Money")}
    changed = {"what": TEXT, "unit": TEXT, "quantity_before": TEXT, "quantity_after": TEXT}
    change = {
        "number": COUNT,
        "of_quote": COUNT,
        "lines": many(
            record("A line that differs.", {**changed, **money, "reason": TEXT, "cause": maybe(TEXT)})
        ),
        "total_before": ref("Money"),
        "total_after": ref("Money"),
        "total": ref("Money"),
    }
    offered = {
        "number": COUNT,
        "state": _STATE,
        "label": TEXT,
        "sent_at": MOMENT,
        "valid_until": MOMENT,
        **_ANSWER,
        "lines": many(record("A line of the quote.", {**line, **money})),
        "subtotal": ref("Money"),
        "tax": ref("Money"),
        "total": ref("Money"),
        "terms": maybe(ref(schema_name(Terms))),
        "before_tear_out": maybe(_before_tear_out()),
        "change": maybe(record("What changes against what was accepted.", change)),
    }
    more = {**ref("Money"), "description": "What its total is more than this one's, or less."}
    return record(
        "A quote as its customer sees it.",
        {
            "job": record("What is quoted.", {"name": TEXT, "rooms": _ROOMS}),
            **offered,
            "beside": many(
                record("An alternate of the same estimate that was sent too.", {**offered, "more": more})
            ),
        },
    )


def _before_tear_out() -> Schema:
    money = {"price": ref("Money"), "tax": ref("Money")}
    unit = record("A unit.", {"what": TEXT, "unit": TEXT, "allowed": TEXT, **money})
    return record(
        "Of a slab that nobody has seen: what is allowed, and what one unit more or less is charged or "
        "credited at.",
        {"sentence": TEXT, "unit_prices": many(unit)},
    )


def _change_order() -> Schema:
    document = {
        "schema": COUNT,
        "of_quote": COUNT,
        "to_quote": COUNT,
        "change": ref(schema_name(ChangeOrder)),
    }
    return record(
        "What differs between an accepted quote and another one; it never changes.",
        {
            "id": ID,
            "number": COUNT,
            "created_at": MOMENT,
            "created_by": TEXT,
            "total": ref("Money"),
            "document": record("The numbers of both quotes and the lines.", document),
            "links": {"type": "object"},
        },
    )
