"""Files in a folder: written beside their place first, so that a file is there whole or not at all."""

import hashlib
import os
import re
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from slab_core.errors import SlabError

KEY = re.compile(r"[a-z0-9][a-z0-9._-]{0,99}(/[a-z0-9][a-z0-9._-]{0,99}){0,7}")


class StoreError(SlabError):
    """Base of what can go wrong with stored files."""

    code = "store-error"


class BadKey(StoreError):
    """A key that could lead out of the folder, or is not one."""

    code = "store-bad-key"


class TooLarge(StoreError):
    """More bytes came than may be stored; nothing was kept."""

    code = "store-too-large"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stored:
    """What was written: its size and SHA-256, in lower-case hexadecimal."""

    key: str
    size: int
    sha256: str


class FolderStore:
    """Files by key (`organisation/scans/name`) under one folder."""

    def __init__(self, *, folder: Path) -> None:
        self._folder = folder

    def put(self, *, key: str, pieces: Iterable[bytes], most_bytes: int) -> Stored:
        """Write the pieces as one file, in the place of an older one.

        It is on disk when this returns. When the pieces end in an error, or are too many (TooLarge), nothing
        is left of them and the older file stays.
        """
        place = self.path(key=key)
        place.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=place.parent, prefix=".part-")
        try:
            with os.fdopen(handle, "wb") as file:
                digest, size = hashlib.sha256(), 0
                for piece in pieces:
                    size += len(piece)
                    if size > most_bytes:
                        raise TooLarge(f"more than {most_bytes:,} bytes")
                    digest.update(piece)
                    file.write(piece)
                file.flush()
                os.fsync(file.fileno())
            Path(name).replace(place)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
        return Stored(key=key, size=size, sha256=digest.hexdigest())

    def path(self, *, key: str) -> Path:
        """Where the file of a key is or would be. Raises BadKey."""
        if not KEY.fullmatch(key) or ".." in key:
            raise BadKey(f"not a key: {key[:100]!r}")
        return self._folder / key

    def delete(self, *, key: str) -> bool:
        """Remove a file; whether there was one."""
        place = self.path(key=key)
        there = place.exists()
        place.unlink(missing_ok=True)
        return there
