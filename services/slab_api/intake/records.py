"""From stored records to the input of the pipeline, and the checks of a record before it is stored."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any, TypeVar
from uuid import UUID

from pydantic import BaseModel

from slab_api.bodies.documents import stored_document
from slab_api.intake import spec
from slab_api.intake.discounts import read_discounts
from slab_api.intake.flatness import read_tolerance
from slab_api.intake.follows import read_follows
from slab_api.intake.job import Prepared, core_faults, prepare
from slab_api.intake.reader import Path, Reader
from slab_api.intake.rooms import read_room
from slab_api.intake.scans import is_used, read_scan
from slab_api.intake.surveys import read_benchmarks, read_survey
from slab_api.problems import invalid
from slab_api.schemas.job import JobCreate, JobEstimateRequest, JobParts
from slab_api.schemas.rooms import RoomCreate
from slab_api.schemas.surveys import SurveyCreate
from slab_api.schemas.units import UnitsDocument
from slab_app.codec import Encoded, decode
from slab_app.errors import Fault, NotReadyForEstimate
from slab_core.rooms.check import check_rooms
from slab_core.rooms.model import Room
from slab_core.surveys.check import check_surveys
from slab_core.surveys.model import Readings, Survey
from slab_store.jobs import JobRecord
from slab_store.rooms import RoomRecord
from slab_store.surveys import SurveyRecord
from slab_store.unit_of_work import UnitOfWork

Shape = TypeVar("Shape", bound=BaseModel)


def to_document(posted: BaseModel) -> dict[str, Any]:
    """What is kept of a posted document: what was said, in the client's own units and words."""
    return posted.model_dump(mode="json", by_alias=True, exclude_unset=True, exclude={"id", "based_on"})


def patched(
    document: dict[str, Any], changes: BaseModel, *, shape: type[Shape], check: Callable[[Shape], None]
) -> dict[str, Any]:
    """The document with the changes, checked as a whole. Raises ApiProblem."""
    after = {**document, **to_document(changes)}
    after = {name: value for name, value in after.items() if value is not None}
    check(stored_document(shape, after))
    return after


def check_job(job: JobParts) -> None:
    """Raises ApiProblem when a job could never be estimated: units, lengths, limits, time zone."""
    reader = Reader(units=job.units)
    read_benchmarks(job.benchmarks, reader=reader)
    read_tolerance(job.tolerance, reader=reader)
    spec.read_covering(job.covering, reader=reader)
    spec.read_scope(job, reader=reader)
    read_discounts(job.discounts, book=None, reader=reader)
    spec.read_limits(job.limits, site=job.site, reader=reader)
    spec.read_site(job.site, reader=reader)
    if reader.faults:
        raise invalid(tuple(reader.faults))


def check_room(room: RoomCreate, *, id: UUID, job: JobRecord) -> None:
    """Raises ApiProblem when the room alone cannot be; how rooms meet is checked with an estimate."""
    reader = Reader(units=room.units or _units(job))
    read = read_room(room, id=str(id), reader=reader, at=("rooms", 0))
    alone = check_rooms(rooms=(read,))
    problems = tuple(problem for problem in alone if not problem.pointer.endswith("/to_room"))
    faults = core_faults(problems, found=reader.faults, drop="/rooms/0")
    if faults:
        raise invalid(faults)


def check_survey(survey: SurveyCreate, *, id: UUID, job: JobRecord) -> None:
    """Raises ApiProblem for a survey that cannot be; that it has no readings yet is no fault."""
    reader = Reader(units=survey.units or _units(job))
    read = read_survey(survey, id=str(id), reader=reader, at=("surveys", 0))
    benchmarks = read_benchmarks(_job(job).benchmarks, reader=Reader(units=_units(job)))
    found = check_surveys(surveys=(read,), benchmarks=benchmarks)
    problems = tuple(problem for problem in found if problem.code != "empty-survey")
    faults = core_faults(problems, found=reader.faults, drop="/surveys/0")
    if faults:
        raise invalid(faults)


def survey_units(survey: SurveyRecord, *, job: JobRecord) -> UnitsDocument:
    """The units of bare numbers in a survey: its own, fixed when it was opened."""
    return stored_document(SurveyCreate, survey.document).units or _units(job)


def prepare_from_records(
    uow: UnitOfWork, *, job: JobRecord, request: JobEstimateRequest, now: datetime
) -> Prepared:
    """The estimate of a job as it stands. Raises NotReadyForEstimate, ApiProblem."""
    document = _job(job)
    reader = Reader(units=document.units)
    rooms = tuple(
        _room(record, job=job, reader=reader, place=i)
        for i, record in enumerate(uow.rooms.of_job(job=job.id))
    )
    surveys = _surveys(uow, job=job, request=request, reader=reader)
    needed = request.options.basis == "surveyed"
    _check_complete(rooms, surveys, needed=needed, faults=reader.faults)
    return prepare(
        uow,
        job=document,
        rooms=rooms,
        surveys=surveys,
        options=request.options,
        reader=reader,
        now=now,
        followed=read_follows(
            uow, follows=request.follows, options=request.options, rooms=rooms, job_id=job.id, reader=reader
        ),
        alternate=request.follows.alternate if request.follows else None,
        job_id=job.id,
    )


def keep_units(document: dict[str, Any], *, job: JobRecord) -> dict[str, Any]:
    """The document with the units that its numbers are in: the job's may be changed later, these may not."""
    return {"units": job.document.get("units", {"length": "m"}), **document}


def _room(record: RoomRecord, *, job: JobRecord, reader: Reader, place: int) -> Room:
    document = stored_document(RoomCreate, record.document)
    own = Reader(units=document.units or _units(job))
    read = read_room(document, id=str(record.id), reader=own, at=("rooms", place))
    reader.faults += own.faults
    return read


def _surveys(
    uow: UnitOfWork, *, job: JobRecord, request: JobEstimateRequest, reader: Reader
) -> tuple[Survey, ...]:
    records = {record.id: record for record in uow.surveys.of_job(job=job.id)}
    wanted = list(records) if request.surveys is None else request.surveys
    for place, survey in enumerate(wanted):
        if survey not in records:
            reader.fault("this job has no survey with this id", ("surveys", place))
    chosen = [records[survey] for survey in dict.fromkeys(wanted) if survey in records]
    still_open = [str(record.id) for record in chosen if record.state == "open"]
    if still_open:
        raise NotReadyForEstimate(f"close these surveys first, or leave them out: {', '.join(still_open)}")
    return tuple(_survey(uow, record, job=job, reader=reader, place=i) for i, record in enumerate(chosen))


def _survey(uow: UnitOfWork, record: SurveyRecord, *, job: JobRecord, reader: Reader, place: int) -> Survey:
    own = Reader(units=survey_units(record, job=job))
    chunks = tuple(
        decode(Readings, Encoded(json=chunk.json, arrays=chunk.arrays))
        for chunk in uow.surveys.chunks(survey=record.id)
    )
    document = stored_document(SurveyCreate, record.document)
    at: Path = ("surveys", place)
    scans = tuple(
        read_scan(
            scan,
            organisation=uow.organisation,
            units=survey_units(record, job=job),
            reader=own,
            at=(*at, "scans", i),
        )
        for i, scan in enumerate(uow.scans.of_survey(survey=record.id))
        if is_used(scan)
    )
    read = read_survey(document, id=str(record.id), reader=own, at=at, chunks=chunks)
    reader.faults += own.faults
    return replace(read, scans=scans)


def _check_complete(
    rooms: tuple[Room, ...], surveys: tuple[Survey, ...], *, needed: bool, faults: Sequence[Fault]
) -> None:
    """`needed` says whether there have to be readings."""
    if not rooms:
        raise NotReadyForEstimate("the job has no rooms; add at least one")
    # Faults name what was asked for and is not there; to say that nothing is there would hide them.
    if needed and not surveys and not faults:
        raise NotReadyForEstimate(
            "the job has no survey; add one with its readings and close it, or quote it before tear-out with "
            "surveys as an empty list and options.basis as allowance"
        )


def _job(job: JobRecord) -> JobCreate:
    return stored_document(JobCreate, job.document)


def _units(job: JobRecord) -> UnitsDocument:
    return _job(job).units
