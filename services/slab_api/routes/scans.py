"""Scans: a file of points is streamed into a survey; what it does not say itself is told apart from it."""

from typing import Annotated

from fastapi import APIRouter, Depends
from fastapi.concurrency import run_in_threadpool
from starlette.responses import Response

from slab_api.answers import json_answer
from slab_api.bodies.digest import check_digest
from slab_api.bodies.files import Received, received_scan
from slab_api.bodies.read import JSON, OCTETS
from slab_api.call import Call, Needs
from slab_api.conditional import required_version, version_tag
from slab_api.contract import body, faults, file_body, found
from slab_api.intake.records import patched, survey_units
from slab_api.intake.scans import check_scan
from slab_api.parameters import ContentDigest, IfMatch, RecordId, ScanId
from slab_api.schemas.scans import ScanPatch
from slab_api.views import scan_file_view, scan_view
from slab_app.actions.jobs import get_job
from slab_app.actions.scans import add_scan, change_scan, check_upload, get_scan, scan_key
from slab_app.actions.surveys import get_survey
from slab_app.errors import ActionRefused
from slab_files.scan_kinds import READ_HERE
from slab_store.errors import AlreadyExists
from slab_store.scans import ScanRecord

router = APIRouter(prefix="/v1/surveys/{id}/scans", tags=["surveys"])

Reads = Annotated[Call, Depends(Needs(scope="surveys:read"))]
Writes = Annotated[Call, Depends(Needs(scope="surveys:write", body=(JSON,)))]
Uploads = Annotated[Call, Depends(Needs(scope="surveys:write", body=(OCTETS,), streamed=True))]


@router.put(
    "/{scan}",
    operation_id="putScan",
    summary="Upload a file of scanned points",
    responses=found("ScanFile", "The file is kept.", tag=False)
    | faults(400, 401, 403, 404, 409, 413, 415, 422, 503, 507),
    openapi_extra=file_body(f"The file: {READ_HERE}. Its first bytes say which, not a name."),
)
async def put_scan(
    call: Uploads, id: RecordId, scan: ScanId, content_digest: ContentDigest = None
) -> Response:
    """In one stream, any number of times: the same content gets the same answer, another content 409.

    A file that cannot be read in the end is refused by the estimate, and stays.
    """
    await run_in_threadpool(_check, call, survey=id, scan=scan)
    most = call.state.settings.max_scan_bytes
    async with received_scan(call.request, store=call.state.files, most=most) as received:
        check_digest(call.request.headers, actual=received.written.sha256)
        record = await run_in_threadpool(_keep, call, received, survey=id, scan=scan)
    return json_answer(scan_file_view(record))


@router.get(
    "/{scan}",
    operation_id="getScan",
    summary="Read a scan's record",
    responses=found("Scan") | faults(400, 401, 403, 404, 503),
)
def get_one_scan(call: Reads, id: RecordId, scan: ScanId) -> Response:
    """What is known of the file, and what was said of it."""
    with call.unit() as (uow, actor):
        record = get_scan(uow, actor, survey=id, id=scan)
    tag = version_tag(record.version)
    if call.request.headers.get("if-none-match") == tag:
        return Response(status_code=304, headers={"etag": tag})
    return json_answer(scan_view(record), headers={"etag": tag})


@router.patch(
    "/{scan}",
    operation_id="patchScan",
    summary="Say what a scan's file does not say itself",
    responses=found("Scan") | faults(400, 401, 403, 404, 409, 412, 413, 415, 422, 428, 503),
    openapi_extra=body(ScanPatch),
)
def patch_scan(call: Writes, id: RecordId, scan: ScanId, if_match: IfMatch = None) -> Response:
    """Changes the fields that are given; also of a closed survey, for estimates that are posted later."""
    changes = call.document(ScanPatch)
    version = required_version(call.request.headers)
    with call.unit() as (uow, actor):
        survey = get_survey(uow, actor, id=id)
        units = survey_units(survey, job=get_job(uow, actor, id=survey.job))
        record = change_scan(
            uow,
            actor,
            survey=id,
            id=scan,
            version=version,
            change=lambda document: patched(
                document, changes, shape=ScanPatch, check=lambda after: check_scan(after, units=units)
            ),
        )
    return json_answer(scan_view(record), headers={"etag": version_tag(record.version)})


def _check(call: Call, *, survey: RecordId, scan: ScanId) -> None:
    with call.unit() as (uow, actor):
        check_upload(uow, actor, survey=survey, id=scan)


def _keep(call: Call, received: Received, *, survey: RecordId, scan: ScanId) -> ScanRecord:
    """Put the file in its place, then record it: a record without its file must never be seen."""
    written = received.written
    key = scan_key(organisation=call.key.organisation, scan=scan, sha256=written.sha256)
    received.file.keep(call.state.files.path(key=key))
    try:
        with call.unit() as (uow, actor):
            return add_scan(
                uow,
                actor,
                survey=survey,
                id=scan,
                kind=received.kind,
                size_bytes=written.size,
                sha256=written.sha256,
                document={},
            )
    except (ActionRefused, AlreadyExists):
        # Refused for certain, and no record has a file of this scan with this content. When the database was
        # lost instead, it may have one: the file stays, and the client comes again.
        call.state.files.delete(key=key)
        raise
