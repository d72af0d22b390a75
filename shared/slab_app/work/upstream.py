"""Earlier results of a run: names and digests at hand, the bytes when asked for."""

from collections.abc import Sequence
from uuid import UUID

from slab_app.codec import Encoded
from slab_app.work.cache import ResultCache
from slab_app.work.ports import Key
from slab_store.database import Database
from slab_store.steps import DoneStep


class StoredUpstream:
    """The results of the steps that are done, read through a cache in the process."""

    def __init__(
        self, *, database: Database, cache: ResultCache, organisation: UUID, done: Sequence[DoneStep]
    ) -> None:
        self._database = database
        self._cache = cache
        self._organisation = organisation
        self._digests: dict[Key, bytes] = {(d.stage, d.subject, d.alternate): d.digest for d in done}

    def digest(self, stage: str, subject: str, alternate: str = "") -> bytes:
        """The digest that the result is kept under. Raises KeyError."""
        return self._digests[(stage, subject, alternate)]

    def load(self, stage: str, subject: str, alternate: str = "") -> Encoded:
        """The result itself. Raises KeyError; also when the stored row is gone, which must not happen."""
        digest = self.digest(stage, subject, alternate)
        kept = self._cache.get(organisation=self._organisation, digest=digest)
        return kept or self._read(digest)

    def keys(self) -> tuple[Key, ...]:
        """Every result there is, in the order of the plan."""
        return tuple(self._digests)

    def _read(self, digest: bytes) -> Encoded:
        # A transaction of its own, as the caller may be computing with none open.
        with self._database.for_organisation(self._organisation) as uow:
            stored = uow.results.get(digest=digest)
        if stored is None:
            raise KeyError(f"the result {digest.hex()} is not in the store")
        encoded = Encoded(json=stored.summary, arrays=stored.arrays)
        self._cache.put(organisation=self._organisation, digest=digest, encoded=encoded)
        return encoded
