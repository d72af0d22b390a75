"""Estimates: post a whole job, watch, cancel."""

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends
from starlette.responses import Response

from slab_api.answers import json_answer, to_json
from slab_api.bodies.read import JSON
from slab_api.call import Call, Needs
from slab_api.contract import CREATED_ESTIMATE, ESTIMATE, ESTIMATE_LIST, body, faults
from slab_api.intake.job import Prepared, prepare_inline
from slab_api.lists import page
from slab_api.parameters import Cursor, IdempotencyKey, JobFilter, PageSize, Prefer, RecordId
from slab_api.routes.waits import ESTIMATES
from slab_api.schemas.job import EstimateRequest
from slab_api.views import estimate_view, queued_estimate, run_view
from slab_app.actions.estimates import Estimate, cancel_estimate, list_estimates, post_estimate
from slab_app.actions.once import Answer
from slab_app.actor import Actor
from slab_base.ids import new_id
from slab_store.unit_of_work import UnitOfWork

router = APIRouter(prefix=ESTIMATES.path, tags=["estimates"])

Reads = Annotated[Call, Depends(Needs(scope="estimates:read"))]
Writes = Annotated[Call, Depends(Needs(scope="estimates:write"))]
Posts = Annotated[Call, Depends(Needs(scope="estimates:write", body=(JSON,)))]


@router.post(
    "",
    operation_id="postEstimate",
    summary="Post a whole job and get a quote back",
    responses=CREATED_ESTIMATE | faults(400, 401, 403, 409, 413, 415, 422, 503, 507),
    openapi_extra=body(EstimateRequest),
    status_code=202,
)
async def post(call: Posts, idempotency_key: IdempotencyKey = None, prefer: Prefer = None) -> Response:
    """Stores the job and queues its estimate. With `Prefer: wait=N` the answer is the finished estimate (200)
    if it is ready in time, else 202 with its address in `Location`."""

    def make(uow: UnitOfWork, actor: Actor) -> Answer:
        request = call.document(EstimateRequest)
        id = request.id or new_id()
        now = call.state.clock.now()
        prepared = prepare_inline(uow, request=request, now=now)
        return queue_estimate(uow, actor, prepared=prepared, id=id, call=call)

    return await ESTIMATES.posted(call, make)


def queue_estimate(
    uow: UnitOfWork, actor: Actor, *, prepared: Prepared, id: UUID, call: Call, job_id: UUID | None = None
) -> Answer:
    """Post the prepared estimate in the open transaction; the answer says that it is queued."""
    now = call.state.clock.now()
    post_estimate(
        uow,
        actor,
        id=id,
        job=prepared.job,
        steps=prepared.steps,
        seed=prepared.seed,
        now=now,
        job_id=job_id,
    )
    queued = queued_estimate(
        id=id,
        job_id=job_id,
        seed=prepared.seed,
        actor=actor.name,
        trace_id=actor.trace_id,
        now=now,
        steps=prepared.steps,
    )
    headers = {"location": f"{ESTIMATES.path}/{id}", "retry-after": "1"}
    return Answer(status=202, body=to_json(estimate_view(queued)), resource=id, headers=headers)


@router.get(
    "",
    operation_id="listEstimates",
    summary="List estimates",
    responses=ESTIMATE_LIST | faults(400, 401, 403, 503),
)
def list_all(
    call: Reads, job_id: JobFilter = None, page_size: PageSize = None, cursor: Cursor = None
) -> Response:
    """From the highest id down; ids made here sort by time, so the newest come first."""
    with call.unit() as (uow, actor):
        return json_answer(
            page(
                filters=f"estimates job={job_id}",
                size=page_size,
                cursor=cursor,
                load=lambda limit, before: list_estimates(
                    uow, actor, limit=limit, before=before, job_id=job_id
                ),
                view=run_view,
            )
        )


@router.get(
    "/{id}",
    operation_id="getEstimate",
    summary="Watch an estimate",
    responses=ESTIMATE | faults(400, 401, 403, 404, 503),
)
async def get(call: Reads, id: RecordId, prefer: Prefer = None) -> Response:
    """State, steps with the time each took, problems, quotes and links. `Prefer: wait=N` holds the answer
    until the estimate is over."""
    return await ESTIMATES.looked_at(call, id=id)


@router.post(
    "/{id}/cancel",
    operation_id="cancelEstimate",
    summary="Cancel an estimate",
    responses=ESTIMATE | faults(400, 401, 403, 404, 503),
)
def cancel(call: Writes, id: RecordId) -> Response:
    """Ends the estimate now. The record stays; one that is over already stays as it is."""
    with call.unit() as (uow, actor):
        estimate: Estimate = cancel_estimate(uow, actor, id=id)
    return json_answer(estimate_view(estimate))
