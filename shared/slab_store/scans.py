"""Files of scanned points: what is known of them, and what their surveyor says about them."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from slab_store.rows import columns, json_text, many, one
from slab_store.session import TenantSession
from slab_store.statement import text


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanRecord:
    """An uploaded scan. The file never changes; `version` counts the changes of the document."""

    id: UUID
    survey: UUID
    kind: str
    size_bytes: int
    sha256: bytes
    document: dict[str, Any]
    version: int
    created_at: datetime
    created_by: str
    updated_at: datetime
    updated_by: str


_COLUMNS = columns(ScanRecord)
_INSERT = text(f"""
    INSERT INTO scans
      (organisation, id, survey, kind, size_bytes, sha256, document, created_by, updated_by, trace_id)
    VALUES (:organisation, :id, :survey, :kind, :size_bytes, :sha256, CAST(:document AS jsonb), :actor,
      :actor, :trace_id)
    ON CONFLICT (organisation, id) DO NOTHING RETURNING {_COLUMNS}
""")
_GET = text(f"SELECT {_COLUMNS} FROM scans WHERE organisation = :organisation AND id = :id")
_OF_SURVEY = text(f"""
    SELECT {_COLUMNS} FROM scans
    WHERE organisation = :organisation AND survey = :survey ORDER BY created_at, id
""")
_UPDATE = text(f"""
    UPDATE scans SET document = CAST(:document AS jsonb), version = version + 1,
      updated_at = now(), updated_by = :actor, trace_id = :trace_id
    WHERE organisation = :organisation AND id = :id AND version = :version
    RETURNING {_COLUMNS}
""")


class Scans:
    """The scans of one organisation's surveys."""

    def __init__(self, session: TenantSession) -> None:
        self._session = session

    def add(
        self,
        *,
        id: UUID,
        survey: UUID,
        kind: str,
        size_bytes: int,
        sha256: bytes,
        document: Mapping[str, object],
        actor: str,
        trace_id: str,
    ) -> ScanRecord | None:
        """Record an uploaded file; None when the organisation has a scan with this id."""
        return one(
            self._session,
            _INSERT,
            ScanRecord,
            id=id,
            survey=survey,
            kind=kind,
            size_bytes=size_bytes,
            sha256=sha256,
            document=json_text(document),
            actor=actor,
            trace_id=trace_id,
        )

    def get(self, *, id: UUID) -> ScanRecord | None:
        """The scan, or None if the organisation has none with this id."""
        return one(self._session, _GET, ScanRecord, id=id)

    def of_survey(self, *, survey: UUID) -> tuple[ScanRecord, ...]:
        """All scans of a survey in the order of their arrival, so that a new one changes no other's place."""
        return many(self._session, _OF_SURVEY, ScanRecord, survey=survey)

    def update(
        self, *, id: UUID, version: int, document: Mapping[str, object], actor: str, trace_id: str
    ) -> ScanRecord | None:
        """Replace the document if the scan still has this version; None if it has not."""
        return one(
            self._session,
            _UPDATE,
            ScanRecord,
            id=id,
            version=version,
            document=json_text(document),
            actor=actor,
            trace_id=trace_id,
        )
