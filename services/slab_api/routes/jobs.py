"""Jobs' long-lived records, their rooms, and estimates of them."""

from typing import Annotated, Any

from fastapi import APIRouter, Depends
from starlette.responses import Response

from slab_api.answers import json_answer, to_json
from slab_api.bodies.read import JSON
from slab_api.call import Call, Needs
from slab_api.call import created as created_answer
from slab_api.conditional import required_version, version_tag
from slab_api.contract import CREATED_ESTIMATE, body, created, faults, found, listed
from slab_api.intake.records import (
    check_job,
    check_room,
    keep_units,
    patched,
    prepare_from_records,
    to_document,
)
from slab_api.lists import page
from slab_api.parameters import Cursor, IdempotencyKey, IfMatch, PageSize, Prefer, RecordId
from slab_api.routes.estimates import queue_estimate
from slab_api.routes.waits import ESTIMATES
from slab_api.schemas.job import JobCreate, JobEstimateRequest, JobPatch
from slab_api.schemas.rooms import RoomCreate, RoomPatch
from slab_api.views import job_view, room_view
from slab_app.actions.jobs import (
    add_job,
    add_room,
    change_job,
    change_room,
    get_job,
    get_room,
    list_jobs,
    list_rooms,
)
from slab_app.actions.once import Answer
from slab_app.actor import Actor
from slab_base.ids import new_id
from slab_store.unit_of_work import UnitOfWork

router = APIRouter(prefix="/v1", tags=["jobs"])

Reads = Annotated[Call, Depends(Needs(scope="jobs:read"))]
Writes = Annotated[Call, Depends(Needs(scope="jobs:write", body=(JSON,)))]
Estimates = Annotated[Call, Depends(Needs(scope="estimates:write", body=(JSON,)))]

_POST_FAULTS = (400, 401, 403, 409, 413, 415, 422, 503, 507)
_PATCH_FAULTS = (400, 401, 403, 404, 412, 413, 415, 422, 428, 503, 507)


@router.post(
    "/jobs",
    operation_id="postJob",
    summary="Record a job",
    status_code=201,
    responses=created("Job") | faults(*_POST_FAULTS),
    openapi_extra=body(JobCreate),
)
def post_job(call: Writes, idempotency_key: IdempotencyKey = None) -> Response:
    """The job's own document; rooms and surveys are added to it."""

    def make(uow: UnitOfWork, actor: Actor) -> Answer:
        posted = call.document(JobCreate)
        check_job(posted)
        job = add_job(uow, actor, id=posted.id or new_id(), document=to_document(posted))
        return _made(job_view(job), id=job.id, path="jobs", version=job.version)

    return created_answer(call.once(make))


@router.get(
    "/jobs",
    operation_id="listJobs",
    summary="List jobs",
    responses=listed("Job") | faults(400, 401, 403, 503),
)
def get_jobs(call: Reads, page_size: PageSize = None, cursor: Cursor = None) -> Response:
    """From the highest id down; ids made here sort by time, so the newest come first."""
    with call.unit() as (uow, actor):
        return json_answer(
            page(
                filters="jobs",
                size=page_size,
                cursor=cursor,
                load=lambda limit, before: list_jobs(uow, actor, limit=limit, before=before),
                view=job_view,
            )
        )


@router.get(
    "/jobs/{id}",
    operation_id="getJob",
    summary="Read a job",
    responses=found("Job") | faults(400, 401, 403, 404, 503),
)
def get_one_job(call: Reads, id: RecordId) -> Response:
    """The record with its version as ETag."""
    with call.unit() as (uow, actor):
        job = get_job(uow, actor, id=id)
    return _record(call, job_view(job), version=job.version)


@router.patch(
    "/jobs/{id}",
    operation_id="patchJob",
    summary="Change a job",
    responses=found("Job") | faults(*_PATCH_FAULTS),
    openapi_extra=body(JobPatch),
)
def patch_job(call: Writes, id: RecordId, if_match: IfMatch = None) -> Response:
    """Changes the fields that are given, if the record still has the version that If-Match names."""
    changes = call.document(JobPatch)
    version = required_version(call.request.headers)
    with call.unit() as (uow, actor):
        job = change_job(
            uow,
            actor,
            id=id,
            version=version,
            change=lambda document: patched(document, changes, shape=JobCreate, check=check_job),
        )
    return _record(call, job_view(job), version=job.version)


@router.post(
    "/jobs/{id}/rooms",
    operation_id="postRoom",
    summary="Add a room to a job",
    tags=["rooms"],
    status_code=201,
    responses=created("Room") | faults(404, *_POST_FAULTS),
    openapi_extra=body(RoomCreate),
)
def post_room(call: Writes, id: RecordId, idempotency_key: IdempotencyKey = None) -> Response:
    """The room's outline is checked now; how it meets other rooms when an estimate is posted."""

    def make(uow: UnitOfWork, actor: Actor) -> Answer:
        job = get_job(uow, actor, id=id)
        posted = call.document(RoomCreate)
        room_id = posted.id or new_id()
        check_room(posted, id=room_id, job=job)
        document = keep_units(to_document(posted), job=job)
        room = add_room(uow, actor, id=room_id, job=id, document=document)
        return _made(room_view(room), id=room.id, path="rooms", version=room.version)

    return created_answer(call.once(make))


@router.get(
    "/jobs/{id}/rooms",
    operation_id="listRooms",
    summary="List a job's rooms",
    tags=["rooms"],
    responses=listed("Room") | faults(400, 401, 403, 404, 503),
)
def get_rooms(call: Reads, id: RecordId, page_size: PageSize = None, cursor: Cursor = None) -> Response:
    """From the highest id down."""
    with call.unit() as (uow, actor):
        return json_answer(
            page(
                filters=f"rooms job={id}",
                size=page_size,
                cursor=cursor,
                load=lambda limit, before: list_rooms(uow, actor, job=id, limit=limit, before=before),
                view=room_view,
            )
        )


@router.get(
    "/rooms/{id}",
    operation_id="getRoom",
    summary="Read a room",
    tags=["rooms"],
    responses=found("Room") | faults(400, 401, 403, 404, 503),
)
def get_one_room(call: Reads, id: RecordId) -> Response:
    """The record with its version as ETag."""
    with call.unit() as (uow, actor):
        room = get_room(uow, actor, id=id)
    return _record(call, room_view(room), version=room.version)


@router.patch(
    "/rooms/{id}",
    operation_id="patchRoom",
    summary="Change a room",
    tags=["rooms"],
    responses=found("Room") | faults(*_PATCH_FAULTS),
    openapi_extra=body(RoomPatch),
)
def patch_room(call: Writes, id: RecordId, if_match: IfMatch = None) -> Response:
    """Changes the fields that are given, if the record still has the version that If-Match names."""
    changes = call.document(RoomPatch)
    version = required_version(call.request.headers)
    with call.unit() as (uow, actor):
        job = get_job(uow, actor, id=get_room(uow, actor, id=id).job)
        room = change_room(
            uow,
            actor,
            id=id,
            version=version,
            change=lambda document: patched(
                document, changes, shape=RoomCreate, check=lambda room: check_room(room, id=id, job=job)
            ),
        )
    return _record(call, room_view(room), version=room.version)


@router.post(
    "/jobs/{id}/estimates",
    operation_id="postJobEstimate",
    summary="Estimate a job's record",
    tags=["estimates"],
    status_code=202,
    responses=CREATED_ESTIMATE | faults(404, *_POST_FAULTS),
    openapi_extra=body(JobEstimateRequest),
)
async def post_estimate_of_job(
    call: Estimates, id: RecordId, idempotency_key: IdempotencyKey = None, prefer: Prefer = None
) -> Response:
    """Takes the job, its rooms and its closed surveys as they stand now; later changes do not touch it."""

    def make(uow: UnitOfWork, actor: Actor) -> Answer:
        job = get_job(uow, actor, id=id)
        request = call.document(JobEstimateRequest)
        estimate = request.id or new_id()
        prepared = prepare_from_records(uow, job=job, request=request, now=call.state.clock.now())
        return queue_estimate(uow, actor, prepared=prepared, id=estimate, call=call, job_id=id)

    return await ESTIMATES.posted(call, make)


def _made(view: dict[str, Any], *, id: Any, path: str, version: int) -> Answer:
    headers = {"location": f"/v1/{path}/{id}", "etag": version_tag(version)}
    return Answer(status=201, body=to_json(view), resource=id, headers=headers)


def _record(call: Call, view: dict[str, Any], *, version: int) -> Response:
    tag = version_tag(version)
    if call.request.method == "GET" and call.request.headers.get("if-none-match") == tag:
        return Response(status_code=304, headers={"etag": tag})
    return json_answer(view, headers={"etag": tag})
