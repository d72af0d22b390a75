"""Writes a quote's record when the step that prices a run is finished, in the same transaction.

The record is a document complete in itself: what it refers to may change or go, it stays readable.
"""

from dataclasses import asdict
from uuid import UUID

import msgspec

from slab_app.codec import Encoded, decode
from slab_app.plain import moment, to_plain
from slab_app.work.ports import Computed
from slab_base.clock import now_utc
from slab_base.ids import new_id
from slab_core.job import Job
from slab_core.quote.model import Quote
from slab_core.stages import StepSpec
from slab_core.takeoff.firm_stock import taken_from_firm
from slab_store.runs import Run
from slab_store.unit_of_work import UnitOfWork

QUOTE_STAGE = "quote"
DOCUMENT_SCHEMA = 1


def on_finished(uow: UnitOfWork, run: UUID, step: StepSpec, computed: Computed) -> None:
    """Keep the quote of the run's alternate; a step that is finished twice keeps the first."""
    if step.stage != QUOTE_STAGE or computed.refuses:
        return
    posted = uow.runs.get(run_id=run)
    run_input = uow.runs.input(run_id=run)
    if posted is None or run_input is None:
        raise LookupError(f"the run {run} has no input")
    quote = decode(Quote, computed.encoded)
    uow.quotes.add(
        id=new_id(),
        run=run,
        job_id=posted.job_id,
        alternate=quote.alternate,
        currency=quote.currency,
        total=quote.total,
        document=_document(quote, posted, Encoded(json=run_input.json, arrays=run_input.arrays)),
        actor=posted.actor,
        trace_id=posted.trace_id,
    )


def _document(quote: Quote, run: Run, job: Encoded) -> bytes:
    """Everything that a reader of the quote needs, whatever becomes of the job's record."""
    plain = msgspec.json.decode(job.json)
    of_firm = any(one.get("of_firm") for one in plain["scope"].get("stock", ()))
    rooms = [{"id": room["id"], "name": room["name"], "phase": room["phase"]} for room in plain["rooms"]]
    document = {
        "schema": DOCUMENT_SCHEMA,
        "estimate": str(run.id),
        "job": {
            "id": run.job_id and str(run.job_id),
            "name": plain["name"],
            "site": plain["site"],
            "rooms": rooms,
        },
        "priced_at": moment(now_utc()),
        "quote": to_plain(quote),
        "firm_stock": _firm_stock(quote, decode(Job, job)) if of_firm else None,
    }
    return msgspec.json.encode(document)


def _firm_stock(quote: Quote, job: Job) -> dict[str, object]:
    """What the quote counts on having from the firm's store, and from which day on."""
    begins = job.earliest_start.date()
    taken = taken_from_firm(
        traces=[(line.key.product, line.trace.inputs) for line in quote.lines],
        stock=job.scope.stock,
        on=begins,
    )
    return {"needed_on": begins.isoformat(), "takes": [asdict(one) for one in taken]}
