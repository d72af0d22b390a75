"""JSON Schemas of the firm's store of materials."""

from typing import get_args

from slab_api.contract_parts import ID, LINK, MOMENT, NUMBER, TEXT, Schema, many, maybe, record
from slab_store.stock import MoveKind

_DAY: Schema = {"type": "string", "format": "date"}
_AMOUNT: dict[str, Schema] = {
    "packages": {"type": "integer", "description": "Unopened ones."},
    "opened": {**NUMBER, "description": "What opened packages hold: 0.5 is half of one."},
}


def stock_schemas() -> dict[str, Schema]:
    """All of them by name."""
    made = {"created_at": MOMENT, "created_by": TEXT}
    entry = {
        "id": ID,
        "product": TEXT,
        **_AMOUNT,
        "use_by": maybe(_DAY),
        "note": TEXT,
        **made,
        "links": record("Where it belongs.", {"self": LINK, "moves": LINK, "closeout": maybe(LINK)}),
    }
    move = {
        "id": ID,
        "kind": {"type": "string", "enum": list(get_args(MoveKind))},
        **_AMOUNT,
        "note": TEXT,
        **made,
        "links": record("Where it belongs.", {"entry": LINK, "quote": maybe(LINK)}),
    }
    amounts = many(record("Of a product.", {"product": TEXT, **_AMOUNT}))
    short = record("Of a product.", {"product": TEXT, **_AMOUNT, "detail": TEXT})
    return {
        "StockEntry": record("Packages of one product that came in together; what is free of them.", entry),
        "StockMove": record("What came in (above 0) or went out (below 0); it never changes.", move),
        "QuoteStock": record(
            "What a quote counts on of the firm's store: planned when its estimate was posted, held since it "
            "was accepted, and what others took first and has to be bought.",
            {"planned": amounts, "held": amounts, "lacking": many(short)},
        ),
        "LeftOver": record(
            "What a job left of a product.", {"product": TEXT, **_AMOUNT, "use_by": maybe(_DAY)}
        ),
        "JobMaterial": record(
            "A material of a quote, as a closeout names it.",
            {"product": TEXT, "what": TEXT, "package": TEXT, "planned": TEXT},
        ),
    }
