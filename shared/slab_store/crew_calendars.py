"""Links under which crews subscribe to their part of the schedule in force."""

from dataclasses import dataclass
from datetime import datetime

from slab_store.rows import columns, many, one
from slab_store.session import TenantSession
from slab_store.statement import text


@dataclass(frozen=True, slots=True, kw_only=True)
class CrewCalendar:
    """A crew's link. Of its text only the secret's SHA-256 is kept; `id` is its public part."""

    id: str
    crew: str
    secret_sha256: bytes
    made_at: datetime
    made_by: str
    withdrawn_at: datetime | None


_COLUMNS = columns(CrewCalendar)
_INSERT = text(f"""
    INSERT INTO crew_calendars (organisation, id, crew, secret_sha256, made_at, made_by, trace_id)
    VALUES (:organisation, :id, :crew, :secret_sha256, :now, :actor, :trace_id) RETURNING {_COLUMNS}
""")
_GET = text(f"SELECT {_COLUMNS} FROM crew_calendars WHERE organisation = :organisation AND id = :id")
_LIST = text(f"""
    SELECT {_COLUMNS} FROM crew_calendars WHERE organisation = :organisation ORDER BY made_at DESC, id
    LIMIT :limit
""")
_WITHDRAW = text(f"""
    UPDATE crew_calendars SET withdrawn_at = coalesce(withdrawn_at, :now)
    WHERE organisation = :organisation AND id = :id RETURNING {_COLUMNS}
""")


class CrewCalendars:
    """The links of one organisation's crews."""

    def __init__(self, session: TenantSession) -> None:
        self._session = session

    def add(
        self, *, id: str, crew: str, secret_sha256: bytes, now: datetime, actor: str, trace_id: str
    ) -> CrewCalendar:
        """Record a new link."""
        values = {"id": id, "crew": crew, "secret_sha256": secret_sha256, "now": now}
        made = one(self._session, _INSERT, CrewCalendar, **values, actor=actor, trace_id=trace_id)
        assert made is not None
        return made

    def get(self, *, id: str) -> CrewCalendar | None:
        """The link, or None if the organisation has none with this id."""
        return one(self._session, _GET, CrewCalendar, id=id)

    def newest(self, *, limit: int) -> tuple[CrewCalendar, ...]:
        """The links that were made last."""
        return many(self._session, _LIST, CrewCalendar, limit=limit)

    def withdraw(self, *, id: str, now: datetime) -> CrewCalendar | None:
        """Close a link; one that is closed stays as it is. None if there is none."""
        return one(self._session, _WITHDRAW, CrewCalendar, id=id, now=now)
