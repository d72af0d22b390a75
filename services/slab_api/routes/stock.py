"""The firm's store of materials: what came in, what is free of it, and every move."""

from typing import Annotated

from fastapi import APIRouter, Depends, Query
from starlette.responses import Response

from slab_api.answers import json_answer, to_json
from slab_api.bodies.read import JSON
from slab_api.call import Call, Needs, tagged
from slab_api.call import created as created_answer
from slab_api.contract import body, created, faults, found, listed
from slab_api.intake.stock import check_correction, check_stock
from slab_api.lists import page
from slab_api.parameters import Cursor, IdempotencyKey, PageSize, RecordId
from slab_api.schemas.stock import StockCorrection, StockPost, thousandths
from slab_api.stock_views import move_view, stock_view
from slab_app.actions.once import Answer
from slab_app.actions.stock import add_stock, correct_stock, get_stock, list_moves, list_stock
from slab_app.actor import Actor
from slab_base.ids import new_id
from slab_store.unit_of_work import UnitOfWork

router = APIRouter(prefix="/v1/stock", tags=["stock"])

Reads = Annotated[Call, Depends(Needs(scope="stock:read"))]
Writes = Annotated[Call, Depends(Needs(scope="stock:write", body=(JSON,)))]
Product = Annotated[str | None, Query(max_length=200, description="Only entries of this product.")]
UsedUp = Annotated[bool, Query(description="Also entries of which nothing is free any more.")]

_POST_FAULTS = (400, 401, 403, 409, 413, 415, 422, 503, 507)


@router.post(
    "",
    operation_id="postStock",
    summary="Record materials that came in",
    status_code=201,
    responses=created("StockEntry") | faults(*_POST_FAULTS),
    openapi_extra=body(StockPost),
)
def post(call: Writes, idempotency_key: IdempotencyKey = None) -> Response:
    """What jobs left comes in by their closeouts; this is for everything else. Jobs that ask for it
    (`scope.use_firm_stock`) plan with what is free and not expired."""

    def make(uow: UnitOfWork, actor: Actor) -> Answer:
        posted = call.document(StockPost)
        check_stock(uow, actor, posted)
        entry = add_stock(
            uow,
            actor,
            id=posted.id or new_id(),
            product=posted.product,
            packages=posted.packages,
            opened_thousandths=thousandths(posted.opened),
            use_by=posted.use_by,
            note=posted.note,
        )
        headers = {"location": f"/v1/stock/{entry.id}"}
        return Answer(status=201, body=to_json(stock_view(entry)), resource=entry.id, headers=headers)

    return created_answer(call.once(make))


@router.get(
    "",
    operation_id="listStock",
    summary="List what is in the firm's store",
    responses=listed("StockEntry") | faults(400, 401, 403, 503),
)
def list_all(
    call: Reads,
    product: Product = None,
    used_up: UsedUp = False,
    page_size: PageSize = None,
    cursor: Cursor = None,
) -> Response:
    """From the newest back. What accepted quotes have reserved is not free."""
    with call.unit() as (uow, actor):
        return json_answer(
            page(
                filters=f"stock product={product} used_up={used_up}",
                size=page_size,
                cursor=cursor,
                load=lambda limit, before: list_stock(
                    uow, actor, limit=limit, before=before, product=product, used_up=used_up
                ),
                view=stock_view,
            )
        )


@router.get(
    "/{id}",
    operation_id="getStock",
    summary="Read an entry of the firm's store",
    responses=found("StockEntry") | faults(400, 401, 403, 404, 503),
)
def get(call: Reads, id: RecordId) -> Response:
    """What is free of it now."""
    with call.unit() as (uow, actor):
        entry = get_stock(uow, actor, id=id)
    return tagged(call, to_json(stock_view(entry)))


@router.post(
    "/{id}/corrections",
    operation_id="postStockCorrection",
    summary="Correct what is in the firm's store",
    status_code=201,
    responses=created("StockMove") | faults(404, *_POST_FAULTS),
    openapi_extra=body(StockCorrection),
)
def post_correction(call: Writes, id: RecordId, idempotency_key: IdempotencyKey = None) -> Response:
    """A move that says what is more or less there, and why. What quotes hold cannot be taken out."""

    def make(uow: UnitOfWork, actor: Actor) -> Answer:
        posted = call.document(StockCorrection)
        check_correction(posted, entry=get_stock(uow, actor, id=id))
        move = correct_stock(
            uow,
            actor,
            id=new_id(),
            entry=id,
            packages=posted.packages,
            opened_thousandths=thousandths(posted.opened),
            note=posted.note,
        )
        headers = {"location": f"/v1/stock/{id}/moves"}
        return Answer(status=201, body=to_json(move_view(move)), resource=move.id, headers=headers)

    return created_answer(call.once(make))


@router.get(
    "/{id}/moves",
    operation_id="listStockMoves",
    summary="List what came into an entry and went out",
    responses=listed("StockMove") | faults(400, 401, 403, 404, 503),
)
def list_all_moves(call: Reads, id: RecordId, page_size: PageSize = None, cursor: Cursor = None) -> Response:
    """From the newest back; what is free is their sum."""
    with call.unit() as (uow, actor):
        return json_answer(
            page(
                filters=f"stock {id} moves",
                size=page_size,
                cursor=cursor,
                load=lambda limit, before: list_moves(uow, actor, entry=id, limit=limit, before=before),
                view=move_view,
            )
        )
