"""Use cases of surveys: open, upload in numbered chunks, close."""

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from slab_app.actions.jobs import get_job
from slab_app.actor import Actor
from slab_app.codec import Encoded
from slab_app.errors import ChunkDiffers, ChunksMissing, Fault, NotFound, SurveyClosed
from slab_store.scans import ScanRecord
from slab_store.surveys import Chunk, ChunkInfo, SurveyRecord
from slab_store.unit_of_work import UnitOfWork

_MOST_NAMED = 50


def add_survey(
    uow: UnitOfWork, actor: Actor, *, id: UUID, job: UUID, document: Mapping[str, Any]
) -> SurveyRecord:
    """Open a survey of a job, inside `once`. Raises NotFound, AlreadyExists."""
    get_job(uow, actor, id=job)
    uow.surveys.add(id=id, job=job, document=document, actor=actor.name, trace_id=actor.trace_id)
    return get_survey(uow, actor, id=id)


def get_survey(uow: UnitOfWork, _actor: Actor, *, id: UUID) -> SurveyRecord:
    """The survey. Raises NotFound."""
    survey = uow.surveys.get(id=id)
    if survey is None:
        raise NotFound("there is no survey with this id")
    return survey


def list_surveys(
    uow: UnitOfWork, actor: Actor, *, job: UUID, limit: int, before: UUID | None
) -> tuple[SurveyRecord, ...]:
    """Surveys of a job from the highest id down. Raises NotFound."""
    get_job(uow, actor, id=job)
    return uow.surveys.list(job=job, limit=limit, before=before)


def known_chunk(
    uow: UnitOfWork, _actor: Actor, *, survey: UUID, number: int, sha256: bytes
) -> ChunkInfo | None:
    """The chunk if it is there with this content, None if it is not there. Raises ChunkDiffers."""
    info = uow.surveys.chunk_info(survey=survey, number=number)
    if info is not None and info.sha256 != sha256:
        raise ChunkDiffers(f"chunk {number} is there with another content; it stands")
    return info


def put_chunk(
    uow: UnitOfWork,
    actor: Actor,
    *,
    survey: UUID,
    number: int,
    sha256: bytes,
    rows: int,
    readings: Encoded,
) -> ChunkInfo:
    """Keep a chunk of an open survey; commits. The same content again changes nothing.

    Raises NotFound, ChunkDiffers, SurveyClosed.
    """
    held = uow.surveys.hold(id=survey, alone=False)
    if held is None:
        raise NotFound("there is no survey with this id")
    known = known_chunk(uow, actor, survey=survey, number=number, sha256=sha256)
    if known is not None:
        return known
    if held.state == "closed":
        raise SurveyClosed("the survey is closed and takes no more chunks")
    added = uow.surveys.add_chunk(
        survey=survey,
        chunk=Chunk(number=number, json=readings.json, arrays=readings.arrays),
        sha256=sha256,
        row_count=rows,
        actor=actor.name,
        trace_id=actor.trace_id,
    )
    if added is None:  # another upload of the same chunk was faster
        added = known_chunk(uow, actor, survey=survey, number=number, sha256=sha256)
        assert added is not None
        return added
    uow.commit()
    return added


def close_survey(
    uow: UnitOfWork, actor: Actor, *, id: UUID, chunks: int, scans: int = 0
) -> tuple[SurveyRecord, tuple[ChunkInfo, ...], tuple[ScanRecord, ...]]:
    """Close the survey when chunks 1 to `chunks` are there and no others, and `scans` scans; commits.

    Closing again is fine. Raises NotFound, and ChunksMissing that names the numbers.
    """
    held = uow.surveys.hold(id=id, alone=True)
    if held is None:
        raise NotFound("there is no survey with this id")
    infos = uow.surveys.chunk_infos(survey=id)
    _check_complete(tuple(info.number for info in infos), chunks=chunks)
    files = uow.scans.of_survey(survey=id)
    _check_scans(len(files), scans=scans)
    if held.state == "closed":
        return held, infos, files
    closed = uow.surveys.close(id=id, chunks=chunks, actor=actor.name)
    assert closed is not None
    uow.commit()
    return closed, infos, files


def _check_complete(numbers: tuple[int, ...], *, chunks: int) -> None:
    there = set(numbers)
    missing = [number for number in range(1, chunks + 1) if number not in there]
    beyond = sorted(number for number in there if number > chunks)
    faults = [Fault(detail=f"chunk {number} is missing", pointer="/chunks") for number in missing]
    faults += [Fault(detail=f"chunk {number} is beyond the count", pointer="/chunks") for number in beyond]
    if faults:
        named = ", ".join(str(number) for number in (missing + beyond)[:_MOST_NAMED])
        what = f"of {chunks} chunks {len(missing)} are missing, and {len(beyond)} more are there: {named}"
        raise ChunksMissing(what, faults=tuple(faults[:_MOST_NAMED]))


def _check_scans(there: int, *, scans: int) -> None:
    if there != scans:
        what = f"{there} scans have arrived, and {scans} were to come"
        raise ChunksMissing(what, faults=(Fault(detail=what, pointer="/scans"),))
