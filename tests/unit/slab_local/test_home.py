"""Kept passwords and the lock of a server's folder."""

import stat
import threading
from pathlib import Path

from slab_local.home import kept_password, locked, write_private


def test_a_password_is_made_once_and_kept(tmp_path: Path) -> None:
    first = kept_password(folder=tmp_path, name="app")
    assert len(first) >= 32
    assert kept_password(folder=tmp_path, name="app") == first
    assert kept_password(folder=tmp_path, name="queue") != first


def test_the_file_of_passwords_is_readable_by_its_owner_alone(tmp_path: Path) -> None:
    kept_password(folder=tmp_path, name="app")
    assert stat.S_IMODE((tmp_path / "passwords.json").stat().st_mode) == 0o600


def test_a_private_file_replaces_one_that_others_could_read(tmp_path: Path) -> None:
    path = tmp_path / "conf"
    path.write_text("old")
    path.chmod(0o644)
    write_private(path=path, text="new")
    assert (path.read_text(), stat.S_IMODE(path.stat().st_mode)) == ("new", 0o600)
    assert list(tmp_path.iterdir()) == [path]


def test_one_holder_of_a_folder_at_a_time(tmp_path: Path) -> None:
    order: list[str] = []
    entered = threading.Event()

    def second() -> None:
        entered.wait()
        with locked(folder=tmp_path / "new"):
            order.append("second")

    thread = threading.Thread(target=second)
    thread.start()
    with locked(folder=tmp_path / "new"):
        entered.set()
        thread.join(0.1)
        order.append("first")
    thread.join()
    assert order == ["first", "second"]
