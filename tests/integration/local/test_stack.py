"""The launcher: parts start in order, on embedded or other servers, and end when it ends, however it ends.

The parts are stand-ins that note what happens to them; the real ones are tried in the end-to-end tests.
"""

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import psycopg
import pytest
import redis

from slab_base.setting_fields import SettingError
from slab_local import stack
from slab_local.errors import LocalServerError
from slab_local.guard import alive
from slab_local.place import throwaway_home
from slab_local.stack import running_stack

NOTE = """
import json, os, signal, sys, time
from pathlib import Path
def note(what):
    event = {"part": NAME, "what": what, "pid": os.getpid(), "env": dict(os.environ)}
    with open(os.environ["NOTES"], "a") as file:
        file.write(json.dumps(event) + "\\n")
"""
PART = """
NAME = {name!r}
from noting import note
import noting, signal, sys, time
noting.NAME = NAME
def end(*_):
    note("stopped")
    sys.exit(0)
signal.signal(signal.SIGTERM, end)
note("started")
"""
SLEEP = "time.sleep(60)\n"
SERVE = """
import os
from http.server import BaseHTTPRequestHandler, HTTPServer
asked = []
class Answer(BaseHTTPRequestHandler):
    def do_GET(self):
        asked.append(self.path)
        self.send_response(200 if len(asked) > 2 else 503)
        self.end_headers()
HTTPServer(("127.0.0.1", int(os.environ["SLABWRIGHT_PORT"])), Answer).serve_forever()
"""
OTHER_SERVERS = {
    "SLABWRIGHT_DATABASE_URL": "postgresql://a:b@db.example/x",
    "SLABWRIGHT_QUEUE_DATABASE_URL": "postgresql://c:d@db.example/x",
    "SLABWRIGHT_MIGRATION_DATABASE_URL": "postgresql://e:f@db.example/x",
    "SLABWRIGHT_BROKER_URL": "redis://:g@broker.example:6379/0",
}


class StandIns:
    """Stand-in modules in a folder, and what they noted."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._notes = folder / "notes.jsonl"
        (folder / "noting.py").write_text(NOTE)
        for name, work in (("migrate", ""), ("api", SERVE), ("worker", SLEEP), ("relay", SLEEP)):
            self.write(name, work)

    def write(self, name: str, work: str) -> None:
        (self.folder / f"stand_in_{name}.py").write_text(PART.format(name=name) + work)

    def environment(self) -> dict[str, str]:
        return {"PYTHONPATH": str(self.folder), "NOTES": str(self._notes)}

    def notes(self) -> list[dict[str, Any]]:
        return (
            [json.loads(line) for line in self._notes.read_text().splitlines()]
            if self._notes.exists()
            else []
        )

    def events(self) -> list[str]:
        return [f"{note['part']} {note['what']}" for note in self.notes()]


@pytest.fixture
def stand_ins(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> StandIns:
    made = StandIns(tmp_path)
    for name, value in {**made.environment(), **OTHER_SERVERS}.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(stack, "PARTS", {name: f"stand_in_{name}" for name in stack.PARTS})
    monkeypatch.setattr(stack, "MIGRATIONS", "stand_in_migrate")
    return made


@pytest.fixture
def home() -> Iterator[Path]:
    with throwaway_home() as folder:
        yield folder


def quiet(line: str) -> None:
    """Nobody reads the progress here."""


def test_parts_start_in_order_and_stop_in_the_reverse_one(stand_ins: StandIns, home: Path) -> None:
    with running_stack(home=home, report=quiet, port=0) as running:
        running.check()
        started = stand_ins.events()
    assert started[:2] == ["migrate started", "api started"]
    assert stand_ins.events()[-1] == "api stopped"
    assert [alive(pid=note["pid"]) for note in stand_ins.notes()] == [False] * len(stand_ins.notes())


def test_addresses_in_the_environment_replace_the_embedded_servers(stand_ins: StandIns, home: Path) -> None:
    with running_stack(home=home, report=quiet, port=0):
        pass
    assert not (home / "postgres").exists()
    assert not (home / "valkey").exists()
    given = stand_ins.notes()[0]["env"]
    assert {name: given[name] for name in OTHER_SERVERS} == OTHER_SERVERS


def test_without_addresses_the_parts_get_those_of_embedded_servers(
    stand_ins: StandIns, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in OTHER_SERVERS:
        monkeypatch.delenv(name)
    with running_stack(home=home, report=quiet, port=0, durable=False) as running:
        given = stand_ins.notes()[0]["env"]
        with psycopg.connect(given["SLABWRIGHT_MIGRATION_DATABASE_URL"]) as connection:
            assert connection.execute("select current_database()").fetchone() == ("slabwright",)
        client: Any = redis.Redis.from_url(given["SLABWRIGHT_BROKER_URL"])
        with client:
            assert client.ping()
        assert "//slab_app:" in given["SLABWRIGHT_DATABASE_URL"]
        assert "//slab_queue:" in given["SLABWRIGHT_QUEUE_DATABASE_URL"]
        assert given["OPENBLAS_NUM_THREADS"] == "1"
        assert running.base_url == f"http://127.0.0.1:{given['SLABWRIGHT_PORT']}"
    with pytest.raises(psycopg.OperationalError):
        psycopg.connect(given["SLABWRIGHT_MIGRATION_DATABASE_URL"])


def test_one_address_of_the_database_without_the_others_is_refused(
    stand_ins: StandIns, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("SLABWRIGHT_QUEUE_DATABASE_URL")
    with (
        pytest.raises(SettingError, match="SLABWRIGHT_QUEUE_DATABASE_URL is not set"),
        running_stack(home=home, report=quiet, port=0),
    ):
        pass
    assert stand_ins.events() == []


def test_a_failed_migration_is_reported_and_no_part_is_started(stand_ins: StandIns, home: Path) -> None:
    stand_ins.write("migrate", "sys.exit('the disk is full')")
    with (
        pytest.raises(LocalServerError, match=r"stand_in_migrate failed:\n.*the disk is full"),
        running_stack(home=home, report=quiet, port=0),
    ):
        pass
    assert stand_ins.events() == ["migrate started"]


def test_an_api_that_does_not_come_up_is_reported_with_its_log(stand_ins: StandIns, home: Path) -> None:
    stand_ins.write("api", "sys.exit('the port is taken')")
    with (
        pytest.raises(LocalServerError, match=r"(?s)api ended with code 1; its log .*the port is taken"),
        running_stack(home=home, report=quiet, port=0),
    ):
        pass


def test_a_part_that_ends_later_is_noticed(stand_ins: StandIns, home: Path) -> None:
    stand_ins.write("worker", "sys.exit('no kernels')")
    with running_stack(home=home, report=quiet, port=0) as running:
        running.parts["worker"].process.wait(10)
        with pytest.raises(LocalServerError, match=r"(?s)worker ended with code 1.*no kernels"):
            running.check()


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_everything_ends_with_the_launcher(number: signal.Signals, stand_ins: StandIns, home: Path) -> None:
    program = (
        "import sys\nfrom argparse import Namespace\nfrom pathlib import Path\n"
        "from slab_local import stack, up\n"
        "stack.PARTS = {name: f'stand_in_{name}' for name in stack.PARTS}\n"
        "stack.MIGRATIONS = 'stand_in_migrate'; up.first_key = lambda **_: 'key'\n"
        "sys.exit(up.main(Namespace(data=Path(sys.argv[1]), port=0)))"
    )
    environment = {name: value for name, value in os.environ.items() if name not in OTHER_SERVERS}
    launcher = subprocess.Popen(
        [sys.executable, "-c", program, home], env=environment, stdout=subprocess.PIPE, text=True
    )
    assert launcher.stdout is not None
    assert any("Ctrl-C stops it" in line for line in iter(launcher.stdout.readline, ""))
    server = int((home / "postgres" / "data" / "postmaster.pid").read_text().split()[0])
    pids = [note["pid"] for note in stand_ins.notes() if note["part"] != "migrate"] + [server]
    assert all(alive(pid=pid) for pid in pids)
    launcher.send_signal(number)
    rest = launcher.stdout.read()
    assert launcher.wait() == (-number if number is signal.SIGKILL else 0)
    assert ("Stopped; the data are kept." in rest) == (number is not signal.SIGKILL)
    end = time.monotonic() + 15
    while any(alive(pid=pid) for pid in pids) and time.monotonic() < end:
        time.sleep(0.02)
    assert [pid for pid in pids if alive(pid=pid)] == []
    launcher.stdout.close()
