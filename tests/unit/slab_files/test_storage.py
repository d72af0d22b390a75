"""Files in a folder."""

import hashlib
import os
from pathlib import Path

import pytest

from slab_files.storage import BadKey, FolderStore, StoreFull, TooLarge, Unfinished


def left(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())


def put(store: FolderStore, key: str, *pieces: bytes) -> None:
    file = store.begin(most_bytes=100)
    for piece in pieces:
        file.write(piece)
    file.finish()
    file.keep(store.path(key=key))
    file.drop()


def test_a_file_is_kept_with_its_size_and_digest(tmp_path: Path) -> None:
    store = FolderStore(folder=tmp_path)
    file = store.begin(most_bytes=6)
    for piece in (b"one", b"", b"two"):
        file.write(piece)
    written = file.finish()
    assert (written.size, written.sha256) == (6, hashlib.sha256(b"onetwo").digest())
    file.keep(store.path(key="a1/scans/b2"))
    file.drop()
    assert store.path(key="a1/scans/b2").read_bytes() == b"onetwo"
    assert left(tmp_path) == ["a1/scans/b2"]


def test_a_broken_upload_leaves_nothing_and_keeps_the_older_file(tmp_path: Path) -> None:
    store = FolderStore(folder=tmp_path)
    put(store, "a", b"old")
    broken = store.begin(most_bytes=10)
    broken.write(b"new")
    broken.drop()
    large = store.begin(most_bytes=10)
    large.write(b"12345")
    with pytest.raises(TooLarge):
        large.write(b"678901")
    large.drop()
    assert store.path(key="a").read_bytes() == b"old"
    assert left(tmp_path) == ["a"]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no device that is always full")
def test_a_full_disk_is_told_from_other_troubles(tmp_path: Path) -> None:
    file = Unfinished(handle=os.open("/dev/full", os.O_WRONLY), place=tmp_path / "a", most_bytes=10)
    with pytest.raises(StoreFull):
        file.write(b"piece")
    file.drop()


def test_what_a_killed_process_left_is_forgotten_once_it_is_old(tmp_path: Path) -> None:
    store = FolderStore(folder=tmp_path)
    put(store, "a", b"kept")
    for age in (10, 7200):
        file = store.begin(most_bytes=10)
        file.write(b"half")
        newest = max((tmp_path / ".unfinished").iterdir(), key=lambda place: place.stat().st_mtime)
        os.utime(newest, (newest.stat().st_mtime - age,) * 2)
    assert store.forget_unfinished(older_than_seconds=3600) == 1
    assert [name for name in left(tmp_path) if not name.startswith(".")] == ["a"]
    assert len(left(tmp_path)) == 2


@pytest.mark.parametrize("key", ["", "/a", "../a", "a/../b", "a//b", "A", "a\n", ".part-1", "a/" * 9, "a\0"])
def test_a_key_that_could_lead_elsewhere_is_refused(key: str, tmp_path: Path) -> None:
    with pytest.raises(BadKey):
        FolderStore(folder=tmp_path).path(key=key)


def test_a_file_is_deleted_once(tmp_path: Path) -> None:
    store = FolderStore(folder=tmp_path)
    put(store, "a", b"x")
    assert [store.delete(key="a"), store.delete(key="a")] == [True, False]
