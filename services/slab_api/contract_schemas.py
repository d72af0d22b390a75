"""JSON Schemas of answers that are no result of a stage: records, lists, problems."""

from typing import get_args

from slab_api.contract_closeouts import closeout_schemas
from slab_api.contract_firm_schedules import firm_schedule_schemas
from slab_api.contract_next_board import next_board_schemas
from slab_api.contract_parts import COUNT, ID, LINK, MOMENT, NUMBER, TEXT, Schema, many, maybe, record, ref
from slab_api.contract_quotes import quote_schemas
from slab_api.contract_stock import stock_schemas
from slab_api.problems import KINDS
from slab_api.results.describe import MONEY_SCHEMA, describe
from slab_core.job import MODELS
from slab_core.stages import OF_THE_SLAB, STAGES
from slab_files.scan_kinds import ScanKind


def answer_schemas() -> dict[str, Schema]:
    """All schemas of answers by name."""
    schemas: dict[str, Schema] = {"Money": MONEY_SCHEMA, "Problem": _problem(), "Finding": _finding()}
    schemas |= _estimates() | _records() | _results(schemas)
    schemas |= quote_schemas(schemas) | closeout_schemas(schemas) | next_board_schemas(schemas)
    schemas |= firm_schedule_schemas(schemas) | stock_schemas()
    items = ("EstimateItem", "FirmScheduleItem", "Job", "Room", "Survey", "QuoteItem", *_STOCK, *_VERSIONS)
    return schemas | {f"{item}List": _list(item) for item in items}


_STOCK = ("StockEntry", "StockMove")
_VERSIONS = {
    "PriceBookVersion": "PriceBookPost",
    "CatalogueVersion": "CataloguePost",
    "RatesVersion": "RatesPost",
    "CalendarVersion": "CalendarPost",
    "CrewsVersion": "CrewsPost",
}
_STATES = ["queued", "running", "completed", "refused", "failed", "cancelled"]
_STEP_STATES = ["waiting", "ready", "claimed", "done", "skipped", "failed", "parked"]


def _problem() -> Schema:
    fault = record(
        "One place that is wrong.",
        {"detail": TEXT, "pointer": {"type": "string", "description": "RFC 6901, into the posted document."}},
    )
    types = "; ".join(f"{kind.code} ({kind.status})" for kind in KINDS.values())
    return {
        "type": "object",
        "description": f"RFC 9457. The type ends in one of: {types}.",
        "properties": {
            "type": {"type": "string", "format": "uri"},
            "status": {"type": "integer"},
            "title": TEXT,
            "detail": TEXT,
            "errors": many(fault),
            "trace_id": TEXT,
        },
        "required": ["type", "status", "title", "detail"],
    }


def _finding() -> Schema:
    return record(
        "Something a person must know about an input or a result.",
        {
            "code": TEXT,
            "detail": TEXT,
            "pointer": {"type": "string", "description": "RFC 6901, into the posted job; or empty."},
            "severity": {"type": "string", "enum": ["refusal", "finding", "warning", "caution"]},
            "alternate": maybe({**TEXT, "description": "The first that says it; null for what all share."}),
        },
    )


def _estimates() -> dict[str, Schema]:
    item: dict[str, Schema] = {
        "id": ID,
        "job_id": maybe(ID),
        "state": {"type": "string", "enum": _STATES},
        "posted_at": MOMENT,
        "posted_by": TEXT,
        "started_at": maybe(MOMENT),
        "finished_at": maybe(MOMENT),
    }
    step: dict[str, Schema] = {
        "stage": {"type": "string", "enum": [stage.name for stage in STAGES]},
        "subject": {"type": "string", "description": "Id of the floor, or job."},
        "alternate": maybe(TEXT),
        "state": {"type": "string", "enum": _STEP_STATES},
        "attempts": COUNT,
        "ms": maybe({**NUMBER, "description": "How long it took; 0 for a result that was there already."}),
        "progress": maybe({**NUMBER, "description": "From 0 to 1, while a long step is at work."}),
        "error": maybe(record("Why it did not go on.", {"code": maybe(TEXT), "detail": maybe(TEXT)})),
    }
    total: dict[str, Schema] = {"id": ID, "number": COUNT, "alternate": TEXT, "total": ref("Money")}
    links = dict.fromkeys(("self", "cancel", *(stage.name for stage in STAGES)), LINK)
    where = record(
        "Where its parts are; `scans` only if it has some, and stages of the slab only if it was surveyed.",
        {**links, "quotes": many(LINK)},
    )
    where["required"] = [name for name in where["required"] if name not in OF_THE_SLAB]
    whole: dict[str, Schema] = {
        **item,
        "seed": COUNT,
        "trace_id": TEXT,
        "problems": many(ref("Finding")),
        "steps": many(record("One step.", step)),
        "alternates": many(ref("Alternate")),
        "quotes": many(record("A quote, once the estimate is priced.", total)),
        "links": where,
    }
    return {
        "Alternate": _alternate(),
        "EstimateItem": record("An estimate as an item of a list.", item),
        "Estimate": record("An estimate with its steps, problems and quotes.", whole),
    }


def _alternate() -> Schema:
    return record(
        "One alternate beside the others, once it is priced or refused; what it comes to is null where it "
        "was refused. The reason is among the problems.",
        {
            "alternate": TEXT,
            "refused": {"type": "boolean", "description": "It cannot be done within the limits."},
            "passes": {"type": "boolean", "description": "Every floor passes its rules after it."},
            "plan_cost": maybe({**NUMBER, "description": "What corrections are weighed by; no price."}),
            "bags": maybe({**COUNT, "description": "Whole bags of compound and of patch."}),
            "grinding_hours": maybe({**NUMBER, "description": "Machine-hours without daily set-up."}),
            "pour_days": maybe(COUNT),
            "site_days": maybe({**COUNT, "description": "Days with people on site."}),
            "total": maybe(ref("Money")),
            "quote_id": maybe(ID),
        },
    )


def _records() -> dict[str, Schema]:
    made = {"created_at": MOMENT, "created_by": TEXT}
    changed = {"version": COUNT, **made, "updated_at": MOMENT, "updated_by": TEXT}
    chunk = {
        "survey_id": ID,
        "number": COUNT,
        "rows": COUNT,
        "content_digest": TEXT,
        "created_at": MOMENT,
    }
    scan_file = {
        "id": ID,
        "survey_id": ID,
        "kind": {"type": "string", "enum": list(get_args(ScanKind)), "description": "LAS and LAZ are one."},
        "size_bytes": COUNT,
        "content_digest": TEXT,
        **made,
    }
    survey = {
        "id": ID,
        "job_id": ID,
        "state": {"type": "string", "enum": ["open", "closed"]},
        **made,
        "closed_at": maybe(MOMENT),
        "closed_by": maybe(TEXT),
        "chunks": many(ref("Chunk")),
        "chunk_count": maybe(COUNT),
        "scans": many(ref("ScanFile")),
        "document": ref("SurveyCreate"),
        "links": {"type": "object"},
    }
    return {
        "Job": record(
            "A job's record.",
            {"id": ID, **changed, "document": ref("JobCreate"), "links": {"type": "object"}},
        ),
        "Room": record(
            "A room's record.",
            {"id": ID, "job_id": ID, **changed, "document": ref("RoomCreate"), "links": {"type": "object"}},
        ),
        "Chunk": record("A chunk of readings that has arrived.", chunk),
        "Survey": record("A survey's record. Lists leave the chunks and scans out.", survey),
        "ScanFile": record("A file of scanned points that has arrived.", scan_file),
        "Scan": record(
            "A scan's record.",
            {**scan_file, **changed, "document": ref("ScanPatch"), "links": {"type": "object"}},
        ),
        **{
            name: record("One version; it never changes.", {"id": ID, **made, "document": ref(document)})
            for name, document in _VERSIONS.items()
        },
    }


def _results(schemas: dict[str, Schema]) -> dict[str, Schema]:
    """Each stage's model, and the answer that it comes in."""
    nodes = record(
        "Where the given nodes lie.",
        {
            "x0_m": NUMBER,
            "y0_m": NUMBER,
            "step_m": NUMBER,
            "nx": COUNT,
            "ny": COUNT,
            "every": {**COUNT, "description": "One of this many nodes in each direction is given."},
        },
    )
    answers = {}
    for model in MODELS.values():
        head = {"stage": TEXT, "subject": TEXT, "alternate": maybe(TEXT), "digest": TEXT}
        shape = record(f"The {model.__name__.lower()} of a floor or job.", head)
        shape["properties"] |= {"nodes": nodes, "result": describe(model, into=schemas)}
        shape["required"].append("result")
        answers[f"{model.__name__}Answer"] = shape
    return answers


def _list(item: str) -> Schema:
    cursor = {**maybe(TEXT), "description": "Give it as `cursor` for the next page; null on the last."}
    return record("One page of a list.", {"items": many(ref(item)), "next": cursor})
