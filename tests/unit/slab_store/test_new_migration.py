"""Beginning a migration."""

import shutil
from pathlib import Path

import pytest

from slab_store.new_migration import MIGRATIONS, new_migration


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    copy = tmp_path / "migrations"
    shutil.copytree(MIGRATIONS, copy, ignore=shutil.ignore_patterns("__pycache__"))
    return copy


def test_a_new_migration_has_the_next_number_and_follows_the_last(folder: Path) -> None:
    last = max(path.name[:4] for path in (folder / "versions").glob("[0-9]*.py"))
    made = new_migration(message="Crews and their calendars", folder=folder)
    assert made.name == f"{int(last) + 1:04}_crews_and_their_calendars.py"
    text = made.read_text()
    assert f"down_revision = '{last}'" in text
    assert text.startswith('"""Crews and their calendars"""')
    compile(text, made.name, "exec")
    assert new_migration(message="Another", folder=folder).name == f"{int(last) + 2:04}_another.py"


def test_a_migration_without_a_message_is_refused(folder: Path) -> None:
    before = sorted((folder / "versions").iterdir())
    with pytest.raises(ValueError, match="needs a message"):
        new_migration(message="  ", folder=folder)
    assert sorted((folder / "versions").iterdir()) == before
