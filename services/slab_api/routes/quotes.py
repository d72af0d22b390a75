"""Quotes: what the customer sees."""

from typing import Annotated

import msgspec
from fastapi import APIRouter, Depends
from starlette.responses import Response

from slab_api.answers import to_json
from slab_api.call import Call, Needs
from slab_api.contract import faults, found
from slab_api.parameters import RecordId
from slab_api.routes.estimates import tagged
from slab_app.actions.quotes import get_quote
from slab_app.plain import moment

router = APIRouter(prefix="/v1/quotes", tags=["quotes"])

Reads = Annotated[Call, Depends(Needs(scope="quotes:read"))]


@router.get(
    "/{id}",
    operation_id="getQuote",
    summary="Read a quote",
    responses=found("Quote") | faults(400, 401, 403, 404, 503),
)
def get(call: Reads, id: RecordId) -> Response:
    """A document complete in itself; it never changes."""
    with call.unit() as (uow, actor):
        quote = get_quote(uow, actor, id=id)
    view = {
        "id": str(quote.id),
        "number": quote.number,
        "state": quote.state,
        "estimate_id": str(quote.run),
        "job_id": quote.job_id and str(quote.job_id),
        "alternate": quote.alternate,
        "created_at": moment(quote.created_at),
        "total": {"amount": str(quote.total), "currency": quote.currency},
        "document": msgspec.Raw(quote.document),
        "links": {"self": f"/v1/quotes/{quote.id}", "estimate": f"/v1/estimates/{quote.run}"},
    }
    return tagged(call, to_json(view))
