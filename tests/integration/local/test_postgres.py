"""Embedded Postgres on this machine: started, found again, killed, moved, closed away."""

import os
import shutil
import signal
import stat
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest

import slab_local
from slab_local import postgres, postgres_binaries
from slab_local.account import choose_account
from slab_local.errors import LocalServerError
from slab_local.postgres import EmbeddedPostgres, embedded_postgres
from tests.support.servers import throwaway_folder

AS_ROOT = pytest.mark.skipif(
    os.geteuid() != 0, reason="root hands Postgres to another account; this is not root"
)
SYSTEM_PYTHON = Path("/usr/bin/python3")


@pytest.fixture
def folder() -> Iterator[Path]:
    with throwaway_folder() as path:
        yield path / "postgres"


def ask(url: str, statement: str) -> object:
    with psycopg.connect(url) as connection:
        row = connection.execute(statement.encode()).fetchone()
        assert row is not None
        return row[0]


def keep_a_row(url: str) -> None:
    with psycopg.connect(url) as connection:
        connection.execute("create table kept as select 42 as n")


def test_data_stay_from_one_start_to_the_next(folder: Path) -> None:
    with embedded_postgres(folder) as url:
        keep_a_row(url)
    with embedded_postgres(folder) as url:
        assert ask(url, "select n from kept") == 42
    with pytest.raises(psycopg.OperationalError):
        psycopg.connect(url)


def test_a_second_start_finds_the_running_server_and_leaves_it_running(folder: Path) -> None:
    with embedded_postgres(folder, durable=False) as first:
        with embedded_postgres(folder, durable=False) as second:
            assert second == first
        assert ask(first, "select 1") == 1


def test_a_killed_server_comes_back_with_its_rows_on_the_same_port(folder: Path) -> None:
    server = EmbeddedPostgres(folder=folder)
    server.start()
    try:
        keep_a_row(server.superuser_url)
        before = server.superuser_url
        server.stop(how=signal.SIGQUIT)
        server.start()
        assert server.superuser_url == before
        assert ask(before, "select n from kept") == 42
    finally:
        server.stop()


def test_passwords_are_demanded_and_kept_scrambled(folder: Path) -> None:
    with embedded_postgres(folder, durable=False) as url:
        with pytest.raises(psycopg.OperationalError, match="password"):
            psycopg.connect(url.replace("slab_admin:", "slab_admin:wrong"))
        assert str(ask(url, "select rolpassword from pg_authid where rolname = 'slab_admin'")).startswith(
            "SCRAM"
        )
        assert ask(url, "show listen_addresses") == "127.0.0.1"
        assert not (folder / "initial-password").exists()
        assert stat.S_IMODE((folder / "data").stat().st_mode) == 0o700


def test_the_lock_of_a_number_that_another_program_has_now_is_overcome(folder: Path) -> None:
    with embedded_postgres(folder, durable=False):
        lock = (folder / "data" / "postmaster.pid").read_text().splitlines()
    lock[0] = str(os.getppid())
    (folder / "data" / "postmaster.pid").write_text("\n".join(lock) + "\n")
    with embedded_postgres(folder, durable=False) as url:
        assert ask(url, "select 1") == 1


def test_half_an_initialisation_is_begun_anew(folder: Path) -> None:
    (folder / "data" / "base").mkdir(parents=True)
    (folder / "data" / "base" / "1").touch()
    with embedded_postgres(folder, durable=False) as url:
        assert ask(url, "select 1") == 1


def test_a_database_is_made_once(folder: Path) -> None:
    server = EmbeddedPostgres(folder=folder, durable=False)
    server.start()
    try:
        server.create_database(name="slabwright")
        server.create_database(name="slabwright")
        assert ask(server.url(database="slabwright"), "select current_database()") == "slabwright"
    finally:
        server.stop()


def test_a_server_that_cannot_start_is_reported_with_its_log(folder: Path) -> None:
    with embedded_postgres(folder, durable=False):
        pass
    (folder / "data" / "postgresql.conf").write_text("max_connections = lots\n")
    with pytest.raises(LocalServerError, match='invalid value for parameter "max_connections"'):
        EmbeddedPostgres(folder=folder).start()


@AS_ROOT
def test_root_runs_a_copy_as_another_account_when_the_wheel_is_closed_away(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    closed = folder.parent / "closed"
    closed.mkdir(mode=0o700)
    site = postgres_binaries.installed_programs().parents[2]
    for name in (postgres_binaries.PACKAGE, postgres_binaries.LIBRARIES):
        shutil.copytree(site / name, closed / name)
    programs = postgres_binaries.programs_of(site=closed)
    monkeypatch.setattr(postgres_binaries, "installed_programs", lambda: programs)
    monkeypatch.setattr(postgres, "installed_programs", lambda: programs)
    with embedded_postgres(folder, durable=False) as url:
        assert ask(url, "select 1") == 1
        assert (folder / "data").stat().st_uid == 65534
        assert list(folder.glob("programs-*"))


@AS_ROOT
def test_root_runs_it_in_a_closed_folder_or_says_why_not() -> None:
    with throwaway_folder() as parent:
        parent.chmod(0o700)
        try:
            choose_account(folder=parent)
        except LocalServerError:
            with pytest.raises(LocalServerError, match="user namespaces are not allowed here"):
                EmbeddedPostgres(folder=parent / "postgres").start()
            return
        with embedded_postgres(parent / "postgres", durable=False) as url:
            assert ask(url, "select 1") == 1


@AS_ROOT
def test_an_account_that_is_not_root_runs_it_as_itself(folder: Path) -> None:
    paths = {
        str(Path(slab_local.__file__).parents[1]),
        str(postgres_binaries.installed_programs().parents[2]),
    }
    reachable = all(
        subprocess.run(["test", "-x", path], user=65534, check=False).returncode == 0 for path in paths
    )
    if not SYSTEM_PYTHON.exists() or not reachable:
        pytest.skip("this checkout, or a system Python, cannot be reached by another account")
    folder.mkdir()
    os.chown(folder, 65534, 65534)
    program = (
        "import sys; from pathlib import Path; from slab_local.postgres import EmbeddedPostgres\n"
        "server = EmbeddedPostgres(folder=Path(sys.argv[1])); server.start()\n"
        "server.create_database(name='own'); print(server.superuser_url); server.stop()"
    )
    done = subprocess.run(
        [SYSTEM_PYTHON, "-W", "error", "-c", program, folder],
        user=65534,
        group=65534,
        env={"PYTHONPATH": os.pathsep.join([*paths]), "PYTHONDONTWRITEBYTECODE": "1"},
        capture_output=True,
        text=True,
        check=False,
        cwd="/",
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("postgresql://slab_admin:")
    assert (folder / "data" / "base").stat().st_uid == 65534


def test_two_launchers_at_once_share_one_server(folder: Path) -> None:
    program = (
        "import sys; from pathlib import Path; from slab_local.postgres import EmbeddedPostgres\n"
        "server = EmbeddedPostgres(folder=Path(sys.argv[1]), durable=False); server.start()\n"
        "print(server.pid, server.superuser_url, flush=True); sys.stdin.read(); server.stop()"
    )
    launchers = [
        subprocess.Popen(
            [sys.executable, "-c", program, folder], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        for _ in range(2)
    ]
    said = [launcher.stdout.readline() for launcher in launchers if launcher.stdout]
    for launcher in launchers:
        launcher.communicate("")
    assert said[0] == said[1] != ""
