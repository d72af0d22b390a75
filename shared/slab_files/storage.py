"""Files in a folder: written beside their place first, so that a file is there whole or not at all."""

import errno
import hashlib
import os
import re
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from slab_core.errors import SlabError

KEY = re.compile(r"[a-z0-9][a-z0-9._-]{0,99}(/[a-z0-9][a-z0-9._-]{0,99}){0,7}")
# No key begins with a point.
_UNFINISHED = ".unfinished"
_NO_ROOM = frozenset({errno.ENOSPC, errno.EDQUOT})


class StoreError(SlabError):
    """Base of what can go wrong with stored files."""

    code = "store-error"


class BadKey(StoreError):
    """A key that could lead out of the folder, or is not one."""

    code = "store-bad-key"


class TooLarge(StoreError):
    """More bytes came than may be stored; nothing was kept."""

    code = "store-too-large"


class StoreFull(StoreError):
    """The disk has no room left, or the account no more of it; nothing was kept."""

    code = "store-full"


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """What was written: its size and SHA-256 (32 bytes)."""

    size: int
    sha256: bytes


class Unfinished:
    """A file that grows piece by piece, and is nowhere until it is kept. Not for threads at once."""

    def __init__(self, *, handle: int, place: Path, most_bytes: int) -> None:
        self._handle: int | None = handle
        self._place = place
        self._most_bytes = most_bytes
        self._digest = hashlib.sha256()
        self._size = 0

    def write(self, piece: bytes) -> None:
        """Add a piece. Raises TooLarge, StoreFull; the file can then only be dropped."""
        self._size += len(piece)
        if self._size > self._most_bytes:
            raise TooLarge(f"more than {self._most_bytes:,} bytes")
        self._digest.update(piece)
        rest = memoryview(piece)
        try:
            while rest:
                rest = rest[os.write(self._open(), rest) :]
        except OSError as problem:
            raise _plain(problem) from problem

    def finish(self) -> Written:
        """Bring all of it to the disk. Raises StoreFull."""
        try:
            os.fsync(self._open())
        except OSError as problem:
            raise _plain(problem) from problem
        return Written(size=self._size, sha256=self._digest.digest())

    def keep(self, place: Path) -> None:
        """Put a finished file in its place, and an older one that is there away."""
        place.parent.mkdir(parents=True, exist_ok=True)
        self._place.replace(place)
        _sync_folder(place.parent)

    def drop(self) -> None:
        """Close it, and leave nothing of it unless it was kept. Once is enough; more do no harm."""
        handle, self._handle = self._handle, None
        if handle is not None:
            os.close(handle)
            self._place.unlink(missing_ok=True)

    def _open(self) -> int:
        assert self._handle is not None, "the file was dropped"
        return self._handle


class FolderStore:
    """Files by key (`organisation/scans/name`) under one folder."""

    def __init__(self, *, folder: Path) -> None:
        self._folder = folder

    def begin(self, *, most_bytes: int) -> Unfinished:
        """A new file without a place yet. Raises StoreFull."""
        folder = self._folder / _UNFINISHED
        try:
            folder.mkdir(parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(dir=folder)
        except OSError as problem:
            raise _plain(problem) from problem
        return Unfinished(handle=handle, place=Path(name), most_bytes=most_bytes)

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

    def forget_unfinished(self, *, older_than_seconds: float) -> int:
        """Remove what processes that were killed have left half written; how many files that were."""
        old = time.time() - older_than_seconds
        found = [place for place in (self._folder / _UNFINISHED).glob("*") if place.stat().st_mtime < old]
        for place in found:
            place.unlink(missing_ok=True)
        return len(found)


def _plain(problem: OSError) -> Exception:
    if problem.errno in _NO_ROOM:
        return StoreFull("the disk that files are stored on has no room left")
    return problem


def _sync_folder(folder: Path) -> None:
    """A name is only sure on the disk when its folder is."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
