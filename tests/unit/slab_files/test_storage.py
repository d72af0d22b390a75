"""Files in a folder."""

import hashlib
from collections.abc import Iterator
from pathlib import Path

import pytest

from slab_files.storage import BadKey, FolderStore, TooLarge


def left(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())


def test_a_file_is_kept_with_its_size_and_digest(tmp_path: Path) -> None:
    store = FolderStore(folder=tmp_path)
    stored = store.put(key="a1/scans/b2", pieces=[b"one", b"", b"two"], most_bytes=6)
    assert (stored.size, stored.sha256) == (6, hashlib.sha256(b"onetwo").hexdigest())
    assert store.path(key="a1/scans/b2").read_bytes() == b"onetwo"
    assert left(tmp_path) == ["a1/scans/b2"]


def test_a_broken_upload_leaves_nothing_and_keeps_the_older_file(tmp_path: Path) -> None:
    store = FolderStore(folder=tmp_path)
    store.put(key="a", pieces=[b"old"], most_bytes=10)

    def broken() -> Iterator[bytes]:
        yield b"new"
        raise ConnectionError

    with pytest.raises(ConnectionError):
        store.put(key="a", pieces=broken(), most_bytes=10)
    with pytest.raises(TooLarge):
        store.put(key="a", pieces=[b"12345", b"678901"], most_bytes=10)
    assert store.path(key="a").read_bytes() == b"old"
    assert left(tmp_path) == ["a"]


@pytest.mark.parametrize("key", ["", "/a", "../a", "a/../b", "a//b", "A", "a\n", ".part-1", "a/" * 9, "a\0"])
def test_a_key_that_could_lead_elsewhere_is_refused(key: str, tmp_path: Path) -> None:
    with pytest.raises(BadKey):
        FolderStore(folder=tmp_path).path(key=key)


def test_a_file_is_deleted_once(tmp_path: Path) -> None:
    store = FolderStore(folder=tmp_path)
    store.put(key="a", pieces=[b"x"], most_bytes=1)
    assert [store.delete(key="a"), store.delete(key="a")] == [True, False]
