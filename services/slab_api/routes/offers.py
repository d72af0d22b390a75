"""What a customer does with a link: read the offer, accept or decline it. No key is asked for."""

from typing import Annotated, Literal

from fastapi import APIRouter, Depends
from starlette.responses import Response

from slab_api.answers import json_answer
from slab_api.contract import body, faults, found
from slab_api.offer_call import OfferCall, answers_offer, reads_offer
from slab_api.quote_views import offer_view
from slab_api.schemas.quotes import OfferAnswer
from slab_app.actions.offers import Offered, answer_offer, offers_beside, read_offer
from slab_base.logs import current_trace_id
from slab_store.unit_of_work import UnitOfWork

router = APIRouter(prefix="/v1/offers", tags=["offers"])

Reads = Annotated[OfferCall, Depends(reads_offer)]
Answers = Annotated[OfferCall, Depends(answers_offer)]

_FAULTS = faults(400, 404, 409, 413, 415, 422, 503)


@router.get(
    "/{link}",
    operation_id="getOffer",
    summary="Read an offer",
    responses=found("Offer", "The offer as it stands now.", tag=False) | faults(400, 404, 503),
)
def get(call: Reads) -> Response:
    """What is done and what it comes to, without what it costs the firm, and the alternates beside it."""
    with call.unit() as uow:
        return _answer(call, uow, read_offer(uow, key=call.key))


@router.post(
    "/{link}/accept",
    operation_id="acceptOffer",
    summary="Accept an offer",
    responses=found("Offer", "It is accepted.", tag=False) | _FAULTS,
    openapi_extra=body(OfferAnswer),
)
def accept(call: Answers) -> Response:
    """Recorded with the name and the time. The same again changes nothing; another answer is refused. With
    `number` one of the quotes beside it is taken."""
    return _answered(call, "accepted")


@router.post(
    "/{link}/decline",
    operation_id="declineOffer",
    summary="Decline an offer",
    responses=found("Offer", "It is declined.", tag=False) | _FAULTS,
    openapi_extra=body(OfferAnswer),
)
def decline(call: Answers) -> Response:
    """Recorded with the name and the time."""
    return _answered(call, "declined")


def _answered(call: OfferCall, answer: Literal["accepted", "declined"]) -> Response:
    given = call.document(OfferAnswer)
    with call.unit() as uow:
        found = answer_offer(
            uow,
            key=call.key,
            answer=answer,
            name=given.name,
            note=given.note,
            now=call.state.clock.now(),
            trace_id=current_trace_id() or "",
            number=given.number,
        )
    with call.unit() as uow:
        return _answer(call, uow, found)


def _answer(call: OfferCall, uow: UnitOfWork, found: Offered) -> Response:
    beside = offers_beside(uow, found)
    return json_answer(offer_view(found, beside=beside, now=call.state.clock.now()))
