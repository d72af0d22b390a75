"""Surveys: opened, uploaded in numbered chunks in any order and any number of times, closed."""

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Path
from starlette.requests import Request
from starlette.responses import Response

from slab_api.answers import json_answer, to_json
from slab_api.bodies.digest import checked_sha256
from slab_api.bodies.documents import stored_document
from slab_api.bodies.read import ARROW, JSON, media_type
from slab_api.call import Call, Needs
from slab_api.call import created as created_answer
from slab_api.contract import body, created, faults, found, listed
from slab_api.intake.chunks import chunk_from_arrow, chunk_from_json
from slab_api.intake.records import check_survey, keep_units, survey_units, to_document
from slab_api.lists import page
from slab_api.parameters import ContentDigest, Cursor, IdempotencyKey, PageSize, RecordId
from slab_api.schemas.surveys import ReadingsDocument, SurveyClose, SurveyCreate
from slab_api.views import chunk_view, survey_view
from slab_app.actions.jobs import get_job
from slab_app.actions.once import Answer
from slab_app.actions.surveys import (
    add_survey,
    close_survey,
    get_survey,
    known_chunk,
    list_surveys,
    put_chunk,
)
from slab_app.actor import Actor
from slab_app.codec import encode
from slab_base.ids import new_id
from slab_core.surveys.model import Readings
from slab_store.surveys import ChunkInfo, SurveyRecord
from slab_store.unit_of_work import UnitOfWork

router = APIRouter(prefix="/v1", tags=["surveys"])

Reads = Annotated[Call, Depends(Needs(scope="surveys:read"))]
Writes = Annotated[Call, Depends(Needs(scope="surveys:write", body=(JSON,)))]
Uploads = Annotated[Call, Depends(Needs(scope="surveys:write", body=(JSON, ARROW)))]
ChunkNumber = Annotated[int, Path(ge=1, le=100_000, description="Chunks are numbered from 1.")]

_ARROW_BODY = {
    ARROW: {
        "schema": {
            "type": "string",
            "format": "binary",
            "description": "Arrow IPC stream: x, y, one of elevation or rod; maybe setup, sd, position_sd.",
        }
    }
}


@router.post(
    "/jobs/{id}/surveys",
    operation_id="postSurvey",
    summary="Open a survey of a job",
    status_code=201,
    responses=created("Survey") | faults(400, 401, 403, 404, 409, 413, 415, 422, 503, 507),
    openapi_extra=body(SurveyCreate),
)
def post_survey(call: Writes, id: RecordId, idempotency_key: IdempotencyKey = None) -> Response:
    """What was measured is in it, or follows in chunks. It is superseded by another, never edited."""

    def make(uow: UnitOfWork, actor: Actor) -> Answer:
        job = get_job(uow, actor, id=id)
        posted = call.document(SurveyCreate)
        survey_id = posted.id or new_id()
        check_survey(posted, id=survey_id, job=job)
        document = keep_units(to_document(posted), job=job)
        survey = add_survey(uow, actor, id=survey_id, job=id, document=document)
        headers = {"location": f"/v1/surveys/{survey_id}"}
        return Answer(status=201, body=to_json(survey_view(survey)), resource=survey_id, headers=headers)

    return created_answer(call.once(make))


@router.get(
    "/jobs/{id}/surveys",
    operation_id="listSurveys",
    summary="List a job's surveys",
    responses=listed("Survey") | faults(400, 401, 403, 404, 503),
)
def get_surveys(call: Reads, id: RecordId, page_size: PageSize = None, cursor: Cursor = None) -> Response:
    """From the highest id down, without their chunks."""
    with call.unit() as (uow, actor):
        return json_answer(
            page(
                filters=f"surveys job={id}",
                size=page_size,
                cursor=cursor,
                load=lambda limit, before: list_surveys(uow, actor, job=id, limit=limit, before=before),
                view=survey_view,
            )
        )


@router.get(
    "/surveys/{id}",
    operation_id="getSurvey",
    summary="Read a survey",
    responses=found("Survey", tag=False) | faults(400, 401, 403, 404, 503),
)
def get_one_survey(call: Reads, id: RecordId) -> Response:
    """The survey, and which chunks and scans have arrived."""
    with call.unit() as (uow, actor):
        survey = get_survey(uow, actor, id=id)
        chunks = uow.surveys.chunk_infos(survey=id)
        scans = uow.scans.of_survey(survey=id)
    return json_answer(survey_view(survey, chunks, scans))


@router.put(
    "/surveys/{id}/chunks/{n}",
    operation_id="putSurveyChunk",
    summary="Upload a chunk of readings",
    responses=found("Chunk", "The chunk is kept.", tag=False)
    | faults(400, 401, 403, 404, 409, 413, 415, 422, 503, 507),
    openapi_extra=body(ReadingsDocument, kinds=_ARROW_BODY),
)
def put_survey_chunk(
    call: Uploads, id: RecordId, n: ChunkNumber, content_digest: ContentDigest = None
) -> Response:
    """In any order, any number of times: the same content gets the same answer, another content 409."""
    sha256 = checked_sha256(call.request.headers, call.body)
    survey, job, known = _look(call, id=id, number=n, sha256=sha256)
    if known is None:
        readings = _read(call, survey=survey, job=job)
        with call.unit() as (uow, actor):
            known = put_chunk(
                uow,
                actor,
                survey=id,
                number=n,
                sha256=sha256,
                rows=len(readings.x_m),
                readings=encode(readings),
            )
    return json_answer(chunk_view(id, known))


@router.post(
    "/surveys/{id}/close",
    operation_id="closeSurvey",
    summary="Close a survey",
    responses=found("Survey", tag=False) | faults(400, 401, 403, 404, 409, 413, 415, 422, 503),
    openapi_extra=body(SurveyClose),
)
def close(call: Writes, id: RecordId) -> Response:
    """Says how many chunks and scans there are; what is missing is named. Closing again changes nothing."""
    closing = call.document(SurveyClose)
    with call.unit() as (uow, actor):
        survey, chunks, scans = close_survey(uow, actor, id=id, chunks=closing.chunks, scans=closing.scans)
    return json_answer(survey_view(survey, chunks, scans))


def _look(call: Call, *, id: Any, number: int, sha256: bytes) -> tuple[SurveyRecord, Any, ChunkInfo | None]:
    """The survey and its job, and the chunk if it is there: reading it again would be work for nothing."""
    with call.unit() as (uow, actor):
        survey = get_survey(uow, actor, id=id)
        known = known_chunk(uow, actor, survey=id, number=number, sha256=sha256)
        return survey, get_job(uow, actor, id=survey.job), known


def _read(call: Call, *, survey: SurveyRecord, job: Any) -> Readings:
    document = stored_document(SurveyCreate, survey.document)
    units = survey_units(survey, job=job)
    if is_arrow(call.request):
        return chunk_from_arrow(call.body, survey=document, units=units)
    return chunk_from_json(call.document(ReadingsDocument), survey=document, units=units)


def is_arrow(request: Request) -> bool:
    """Whether the body says that it is an Arrow stream."""
    return media_type(request) == ARROW
