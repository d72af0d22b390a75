"""Use cases of scans: a file of points is uploaded into an open survey, and what is said of it put right."""

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from slab_app.actions.change import Change, changed
from slab_app.actions.surveys import get_survey
from slab_app.actor import Actor
from slab_app.errors import NotFound, ScanDiffers, SurveyClosed
from slab_store.errors import AlreadyExists
from slab_store.scans import ScanRecord
from slab_store.surveys import SurveyRecord
from slab_store.unit_of_work import UnitOfWork


def scan_key(*, organisation: UUID, scan: UUID, sha256: bytes) -> str:
    """What a scan's file is called in storage. Two files sent for one scan never meet."""
    return f"{organisation}/scans/{scan}/{sha256.hex()}"


def check_upload(uow: UnitOfWork, actor: Actor, *, survey: UUID, id: UUID) -> None:
    """Whether a file may be sent at all, before hundreds of megabytes are.

    Raises NotFound, SurveyClosed for a scan that is not there yet, AlreadyExists for one of another survey.
    """
    found = get_survey(uow, actor, id=survey)
    _check_free(found, uow.scans.get(id=id), id=id)


def add_scan(
    uow: UnitOfWork,
    actor: Actor,
    *,
    survey: UUID,
    id: UUID,
    kind: str,
    size_bytes: int,
    sha256: bytes,
    document: Mapping[str, Any],
) -> ScanRecord:
    """Record the file of a scan, which is stored already; commits. The same content again changes nothing.

    Raises NotFound, ScanDiffers, SurveyClosed, AlreadyExists.
    """
    held = uow.surveys.hold(id=survey, alone=False)
    if held is None:
        raise NotFound("there is no survey with this id")
    known = _check_free(held, uow.scans.get(id=id), id=id)
    if known is None:
        known = uow.scans.add(
            id=id,
            survey=survey,
            kind=kind,
            size_bytes=size_bytes,
            sha256=sha256,
            document=document,
            actor=actor.name,
            trace_id=actor.trace_id,
        )
        if known is not None:
            uow.commit()
    if known is None:  # another upload of the same scan was faster
        known = _check_free(held, uow.scans.get(id=id), id=id)
        assert known is not None
    if known.sha256 != sha256:
        raise ScanDiffers("the scan is there with another file; it stands: give the new file its own id")
    return known


def get_scan(uow: UnitOfWork, _actor: Actor, *, survey: UUID, id: UUID) -> ScanRecord:
    """The scan. Raises NotFound, also when it belongs to another survey."""
    scan = uow.scans.get(id=id)
    if scan is None or scan.survey != survey:
        raise NotFound("this survey has no scan with this id")
    return scan


def change_scan(
    uow: UnitOfWork, actor: Actor, *, survey: UUID, id: UUID, version: int, change: Change
) -> ScanRecord:
    """Change what is said of the file, if the scan still has this version; commits.

    Also of a closed survey: the file stays as it was measured, and estimates keep what they were posted with.
    Raises NotFound, VersionStale.
    """

    def update(document: Mapping[str, Any]) -> ScanRecord | None:
        return uow.scans.update(
            id=id, version=version, document=document, actor=actor.name, trace_id=actor.trace_id
        )

    before = get_scan(uow, actor, survey=survey, id=id)
    return changed(uow, before=before, version=version, change=change, update=update, what="scan")


def _check_free(survey: SurveyRecord, known: ScanRecord | None, *, id: UUID) -> ScanRecord | None:
    """The scan of this id in this survey; None when it may be made."""
    if known is not None and known.survey != survey.id:
        raise AlreadyExists(table="scans", record=id)
    if known is None and survey.state == "closed":
        raise SurveyClosed("the survey is closed and takes no more scans")
    return known
