"""Quotes: read, sent to customers, and changed by order."""

from datetime import date, timedelta
from typing import Annotated, Literal

from fastapi import APIRouter, Depends, Query
from starlette.responses import Response

from slab_api.answers import json_answer, to_json
from slab_api.bodies.read import JSON
from slab_api.call import Call, Needs, tagged
from slab_api.call import created as created_answer
from slab_api.contract import body, created, faults, found, listed
from slab_api.lists import page
from slab_api.parameters import Cursor, IdempotencyKey, JobFilter, PageSize, RecordId
from slab_api.problems import invalid
from slab_api.quote_views import change_order_view, offer_record, quote_item, quote_view
from slab_api.schemas.quotes import ChangeOrderCreate, QuoteSend
from slab_app.actions.change_orders import add_change_order, get_change_order
from slab_app.actions.offers import send_quote
from slab_app.actions.once import Answer
from slab_app.actions.promised_stock import quote_stock
from slab_app.actions.quotes import get_quote, list_quotes
from slab_app.actor import Actor
from slab_app.errors import Fault
from slab_base.ids import new_id
from slab_store.unit_of_work import UnitOfWork

router = APIRouter(prefix="/v1", tags=["quotes"])

Reads = Annotated[Call, Depends(Needs(scope="quotes:read"))]
Writes = Annotated[Call, Depends(Needs(scope="quotes:write", body=(JSON,)))]
State = Annotated[
    Literal["draft", "sent", "expired", "accepted", "declined", "superseded"] | None,
    Query(description="Only quotes in this state; a sent one whose last day is past is expired."),
]

MOST_DAYS = 366
_POST_FAULTS = (400, 401, 403, 404, 409, 413, 415, 422, 503, 507)


@router.get(
    "/quotes",
    operation_id="listQuotes",
    summary="List quotes",
    responses=listed("QuoteItem") | faults(400, 401, 403, 503),
)
def get_quotes(
    call: Reads,
    job_id: JobFilter = None,
    state: State = None,
    page_size: PageSize = None,
    cursor: Cursor = None,
) -> Response:
    """From the newest back, of one job or in one state where these are given."""
    with call.unit() as (uow, actor):
        return json_answer(
            page(
                filters=f"quotes job={job_id} state={state}",
                size=page_size,
                cursor=cursor,
                load=lambda limit, before: list_quotes(
                    uow,
                    actor,
                    limit=limit,
                    before=before,
                    job=job_id,
                    state=state,
                    now=call.state.clock.now(),
                ),
                view=quote_item,
            )
        )


@router.get(
    "/quotes/{id}",
    operation_id="getQuote",
    summary="Read a quote",
    responses=found("Quote") | faults(400, 401, 403, 404, 503),
)
def get(call: Reads, id: RecordId) -> Response:
    """Its document is complete in itself and never changes; beside it stands what has become of it."""
    with call.unit() as (uow, actor):
        quote, now = get_quote(uow, actor, id=id), call.state.clock.now()
        view = quote_view(
            quote,
            offers=uow.offers.of_quote(quote=id),
            orders=uow.change_orders.of_quote(quote=id),
            changes=uow.change_orders.leading_to(quote=id),
            closeouts=uow.closeouts.of_quote(quote=id),
            stock=quote_stock(uow, quote, today=now.date()),
            now=now,
        )
    return tagged(call, to_json(view))


@router.post(
    "/quotes/{id}/send",
    operation_id="sendQuote",
    summary="Send a quote to its customer",
    status_code=201,
    responses=created("SentQuote") | faults(*_POST_FAULTS),
    openapi_extra=body(QuoteSend),
)
def send(call: Writes, id: RecordId, idempotency_key: IdempotencyKey = None) -> Response:
    """Gives the link under which the customer reads and answers it. The service keeps the link
    only with this request's Idempotency-Key: a lost one is replaced by sending again, which closes it."""

    def make(uow: UnitOfWork, actor: Actor) -> Answer:
        wanted, now = call.document(QuoteSend), call.state.clock.now()
        _check_last_day(wanted.valid_until, today=now.date())
        quote, offer, key = send_quote(uow, actor, id=id, last_day=wanted.valid_until, now=now)
        link = f"/v1/offers/{key.text()}"
        view = {"quote": quote_item(quote), "offer": offer_record(offer), "link": link}
        return Answer(status=201, body=to_json(view), resource=id, headers={"location": f"/v1/quotes/{id}"})

    return created_answer(call.once(make))


def _check_last_day(last_day: date | None, *, today: date) -> None:
    """Raises ApiProblem for a day so far off that only a slip of the year explains it."""
    latest = today + timedelta(days=MOST_DAYS)
    if last_day is not None and last_day > latest:
        detail = f"an offer may be open for {MOST_DAYS} days, to {latest} at the latest, not to {last_day}"
        raise invalid((Fault(detail=detail, pointer="/valid_until"),))


@router.post(
    "/quotes/{id}/change-orders",
    operation_id="postChangeOrder",
    summary="Change an accepted quote by order",
    status_code=201,
    responses=created("ChangeOrder") | faults(*_POST_FAULTS),
    openapi_extra=body(ChangeOrderCreate),
)
def post_change_order(call: Writes, id: RecordId, idempotency_key: IdempotencyKey = None) -> Response:
    """What differs, line by line with the reason. Neither quote is touched; the customer accepts the order by
    accepting the quote that it leads to, once that is sent."""

    def make(uow: UnitOfWork, actor: Actor) -> Answer:
        wanted = call.document(ChangeOrderCreate)
        order = add_change_order(uow, actor, id=wanted.id or new_id(), of_quote=id, to_quote=wanted.quote)
        headers = {"location": f"/v1/change-orders/{order.id}"}
        return Answer(status=201, body=to_json(change_order_view(order)), resource=order.id, headers=headers)

    return created_answer(call.once(make))


@router.get(
    "/change-orders/{id}",
    operation_id="getChangeOrder",
    summary="Read a change order",
    responses=found("ChangeOrder") | faults(400, 401, 403, 404, 503),
)
def get_order(call: Reads, id: RecordId) -> Response:
    """It never changes; whether it is accepted shows in the quote that it leads to."""
    with call.unit() as (uow, actor):
        order = get_change_order(uow, actor, id=id)
    return tagged(call, to_json(change_order_view(order)))
