"""Change orders: from an accepted quote to another one of the same job."""

from decimal import Decimal
from typing import Any
from uuid import UUID

import msgspec

from slab_app.actions.change_causes import causes_of
from slab_app.actions.quotes import get_quote
from slab_app.actions.work_left import with_done_work
from slab_app.actor import Actor
from slab_app.codec import Encoded, decode
from slab_app.errors import NotFound, QuoteNotOpen, QuotesApart
from slab_app.plain import to_plain
from slab_core.job import Job
from slab_core.quote.change_order import Cause, change_order
from slab_core.quote.change_words import PricedLine
from slab_core.takeoff.model import LineKey
from slab_store.change_orders import ChangeOrderRecord
from slab_store.quotes import QuoteRecord
from slab_store.unit_of_work import UnitOfWork

DOCUMENT_SCHEMA = 1


def add_change_order(
    uow: UnitOfWork, actor: Actor, *, id: UUID, of_quote: UUID, to_quote: UUID
) -> ChangeOrderRecord:
    """Record what differs between an accepted quote and a draft of the same job; neither is touched. A draft
    of what is left of the accepted work counts together with what is done of it.

    Raises NotFound, QuoteNotOpen, QuotesApart, slab_store.errors.AlreadyExists.
    """
    accepted = get_quote(uow, actor, id=of_quote)
    uow.quotes.locked_rivals(run=accepted.run, job=accepted.job_id)
    accepted, wanted = get_quote(uow, actor, id=of_quote), get_quote(uow, actor, id=to_quote)
    _check(uow, accepted, wanted)
    lines = priced_lines(accepted)
    order = change_order(
        currency=accepted.currency,
        accepted=lines,
        wanted=with_done_work(
            uow,
            accepted=accepted,
            wanted=wanted,
            accepted_lines=lines,
            wanted_lines=priced_lines(wanted),
        ),
        causes=_causes(uow, accepted, wanted),
    )
    document = {
        "schema": DOCUMENT_SCHEMA,
        "of_quote": accepted.number,
        "to_quote": wanted.number,
        "change": to_plain(order),
    }
    uow.change_orders.add(
        id=id,
        of_quote=of_quote,
        to_quote=to_quote,
        currency=accepted.currency,
        total=order.total,
        document=msgspec.json.encode(document),
        actor=actor.name,
        trace_id=actor.trace_id,
    )
    return get_change_order(uow, actor, id=id)


def get_change_order(uow: UnitOfWork, _actor: Actor, *, id: UUID) -> ChangeOrderRecord:
    """The order. Raises NotFound."""
    found = uow.change_orders.get(id=id)
    if found is None:
        raise NotFound("there is no change order with this id")
    return found


def priced_lines(quote: QuoteRecord) -> tuple[PricedLine, ...]:
    """The lines of a quote's document."""
    return tuple(_line(line) for line in msgspec.json.decode(quote.document)["quote"]["lines"])


def _causes(uow: UnitOfWork, accepted: QuoteRecord, wanted: QuoteRecord) -> frozenset[Cause]:
    """Why they differ; nothing where retention has removed what one of them was made of."""
    before, after = (uow.runs.input(run_id=quote.run) for quote in (accepted, wanted))
    if before is None or after is None:
        return frozenset()
    jobs = [decode(Job, Encoded(json=each.json, arrays=each.arrays)) for each in (before, after)]
    ways = [
        job.corrected_as if job.basis == "allowance" else quote.alternate
        for job, quote in zip(jobs, (accepted, wanted), strict=True)
    ]
    return causes_of(before=jobs[0], after=jobs[1], other_alternate=ways[0] != ways[1])


def _line(line: dict[str, Any]) -> PricedLine:
    return PricedLine(
        key=LineKey(**line["key"]).text(),
        kind=line["kind"],
        what=line["what"],
        quantity=Decimal(line["quantity"]),
        unit=line["unit"],
        unit_cost=Decimal(line["unit_cost"]["amount"]),
        price=Decimal(line["price"]["amount"]),
        tax=Decimal(line["tax"]["amount"]),
        inputs=line["trace"]["inputs"],
    )


def _check(uow: UnitOfWork, accepted: QuoteRecord, wanted: QuoteRecord) -> None:
    if accepted.state != "accepted":
        raise QuoteNotOpen(
            f"quote {accepted.number} is {accepted.state}; only an accepted one is changed by order"
        )
    if wanted.state != "draft":
        raise QuoteNotOpen(f"quote {wanted.number} is {wanted.state}; a change order leads to a draft")
    if accepted.job_id != wanted.job_id:
        raise QuotesApart(f"quotes {accepted.number} and {wanted.number} are of different jobs")
    if accepted.currency != wanted.currency:
        raise QuotesApart(
            f"quote {accepted.number} is in {accepted.currency}, quote {wanted.number} in {wanted.currency}"
        )
    if uow.change_orders.leading_to(quote=wanted.id) is not None:
        raise QuotesApart(f"quote {wanted.number} is what another change order leads to already")
    for order in uow.change_orders.of_quote(quote=accepted.id):
        after = uow.quotes.get(id=order.to_quote)
        if after is not None and after.state == "accepted":
            raise QuotesApart(
                f"quote {accepted.number} was changed by order {order.number} already: change quote "
                f"{after.number}, which that order led to"
            )
