"""Results kept in the process, as stored: the next steps of a run mostly read what the last ones wrote."""

from collections import OrderedDict
from uuid import UUID

from slab_app.codec import Encoded


class ResultCache:
    """The most recently used results up to `max_bytes`, by organisation and digest."""

    def __init__(self, *, max_bytes: int = 64 * 1024 * 1024) -> None:
        self._max_bytes = max_bytes
        self._bytes = 0
        self._kept: OrderedDict[tuple[UUID, bytes], Encoded] = OrderedDict()

    def get(self, *, organisation: UUID, digest: bytes) -> Encoded | None:
        """The result, if it is still here."""
        key = (organisation, digest)
        if key in self._kept:
            self._kept.move_to_end(key)
        return self._kept.get(key)

    def put(self, *, organisation: UUID, digest: bytes, encoded: Encoded) -> None:
        """Keep a result, and drop those not used for longest to make room."""
        key = (organisation, digest)
        if key in self._kept:
            return
        self._kept[key] = encoded
        self._bytes += _size(encoded)
        while self._bytes > self._max_bytes and self._kept:
            self._bytes -= _size(self._kept.popitem(last=False)[1])


def _size(encoded: Encoded) -> int:
    return len(encoded.json) + len(encoded.arrays)
