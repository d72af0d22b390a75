"""Results of stages, kept by the digest of the recipe that made them."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass

from slab_core.errors import Problem
from slab_store.session import TenantSession
from slab_store.statement import text


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredResult:
    """One stage's result as bytes: a JSON summary, packed arrays, its problems, a quote if it made one."""

    digest: bytes
    stage: str
    schema: int
    summary: bytes
    arrays: bytes
    problems: tuple[Problem, ...] = ()
    quote: bytes | None = None


_ADD = text("""
    INSERT INTO stage_results (organisation, digest, stage, schema, summary, arrays, problems, quote)
    VALUES (:organisation, :digest, :stage, :schema, :summary, :arrays, CAST(:problems AS jsonb), :quote)
    ON CONFLICT (organisation, digest) DO NOTHING
""")
_GET = text("""
    SELECT digest, stage, schema, summary, arrays, problems, quote FROM stage_results
    WHERE organisation = :organisation AND digest = :digest
""")
_SUMMARIES = text("""
    SELECT digest, summary FROM stage_results
    WHERE organisation = :organisation AND digest = ANY(:digests)
""")
# Retention looks at days; a write with every use would be waste.
_TOUCH = text("""
    UPDATE stage_results SET last_used_at = now()
    WHERE organisation = :organisation AND digest = ANY(:digests) AND last_used_at < now() - interval '1 day'
""")


class Results:
    """The results of one organisation; rows never change, so two workers racing write the same row once."""

    def __init__(self, session: TenantSession) -> None:
        self._session = session

    def add(self, result: StoredResult) -> bool:
        """Keep a result; False when one with its digest is there already, which then stands."""
        values = {name: getattr(result, name) for name in StoredResult.__slots__}
        values["problems"] = dump_problems(result.problems)
        return self._session.execute(_ADD, **values).rowcount == 1

    def get(self, *, digest: bytes) -> StoredResult | None:
        """The result made by this recipe, or None."""
        row = self._session.execute(_GET, digest=digest).one_or_none()
        return StoredResult(**{**row, "problems": load_problems(row["problems"])}) if row else None

    def summaries(self, *, digests: Sequence[bytes]) -> dict[bytes, bytes]:
        """The JSON of these results without their arrays, by digest."""
        rows = self._session.execute(_SUMMARIES, digests=list(digests))
        return {row["digest"]: row["summary"] for row in rows}

    def touch(self, *, digests: Sequence[bytes]) -> None:
        """Remember that these results were used, to the day."""
        self._session.execute(_TOUCH, digests=list(digests))


def dump_problems(problems: Sequence[Problem]) -> str:
    """Problems as JSON text for a jsonb column."""
    return json.dumps([asdict(problem) for problem in problems], ensure_ascii=False)


def load_problems(value: Sequence[Mapping[str, str]]) -> tuple[Problem, ...]:
    """Problems from what a jsonb column holds."""
    return tuple(Problem(**problem) for problem in value)  # type: ignore[arg-type]  # the severity was checked when it was written
