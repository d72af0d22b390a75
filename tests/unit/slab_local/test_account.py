"""As whom Postgres runs."""

import os
from pathlib import Path

import pytest

from slab_local import account, place
from slab_local.account import Account, choose_account
from slab_local.errors import LocalServerError

NOBODY = Account(name="nobody", owner=(65534, 65534))
NAMESPACE = Account(name="a user namespace", prefix=("unshare",), owner=(0, 0))


@pytest.fixture
def able(monkeypatch: pytest.MonkeyPatch) -> set[str]:
    """The accounts that can reach the folder; empty at first."""
    names: set[str] = set()
    monkeypatch.setattr(Account, "can", lambda self, command: self.name in names)
    monkeypatch.setattr(account, "_nobody", lambda: NOBODY)
    monkeypatch.setattr(account, "_namespace", lambda: NAMESPACE)
    return names


def test_an_ordinary_user_runs_it_as_itself(able: set[str], tmp_path: Path) -> None:
    chosen = choose_account(folder=tmp_path, root=False)
    assert (chosen.prefix, chosen.arguments, chosen.owner) == ((), {}, (os.geteuid(), os.getegid()))


def test_root_prefers_another_account(able: set[str], tmp_path: Path) -> None:
    able.update({"nobody", "a user namespace"})
    assert choose_account(folder=tmp_path, root=True) is NOBODY


def test_root_takes_a_namespace_when_the_folder_is_closed(able: set[str], tmp_path: Path) -> None:
    able.add("a user namespace")
    assert choose_account(folder=tmp_path, root=True) is NAMESPACE


def test_a_machine_without_a_nobody_account_still_has_namespaces(
    able: set[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(account, "_nobody", lambda: None)
    able.add("a user namespace")
    assert choose_account(folder=tmp_path, root=True) is NAMESPACE


def test_root_is_told_what_to_do_when_nothing_works(able: set[str], tmp_path: Path) -> None:
    with pytest.raises(
        LocalServerError, match=r"Run this as another user, or name a data folder .* DATABASE_URL"
    ):
        choose_account(folder=tmp_path, root=True)


def test_kept_data_go_to_a_system_folder_when_the_project_is_closed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*, folder: Path) -> Account:
        raise LocalServerError(f"closed: {folder}")

    monkeypatch.setattr(place, "choose_account", refuse)
    monkeypatch.setattr(place, "SYSTEM", tmp_path / "system")
    first = place.kept_home(project=tmp_path / "one")
    assert first.parent == tmp_path / "system"
    assert first == place.kept_home(project=tmp_path / "one")
    assert first != place.kept_home(project=tmp_path / "two")


def test_a_throwaway_folder_lets_others_pass_but_not_list_and_is_removed() -> None:
    with place.throwaway_home() as home:
        assert home.stat().st_mode & 0o777 == 0o711
        (home / "sub").mkdir()
    assert not home.exists()


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can give files away")
def test_all_files_of_a_folder_are_given_to_the_account(tmp_path: Path) -> None:
    folder = tmp_path / "data"
    (folder / "base").mkdir(parents=True)
    (folder / "base" / "1").touch()
    (folder / "link").symlink_to("/etc/hostname")
    NOBODY.give(folder)
    assert {path.lstat().st_uid for path in (folder, *folder.rglob("*"))} == {65534}
    assert Path("/etc/hostname").stat().st_uid == 0
