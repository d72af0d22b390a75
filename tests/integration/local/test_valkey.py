"""Embedded Valkey on this machine."""

import os
import signal
import stat
from pathlib import Path
from typing import Any

import pytest
import redis

from slab_local import processes
from slab_local.errors import LocalServerError
from slab_local.valkey import EmbeddedValkey, embedded_valkey


def client(url: str) -> Any:  # the client's own types leave open whether a call is awaited
    return redis.Redis.from_url(url)


def test_what_it_holds_stays_from_one_start_to_the_next(tmp_path: Path) -> None:
    with embedded_valkey(tmp_path) as url, client(url) as connection:
        connection.set("kept", "42")
    with embedded_valkey(tmp_path) as url, client(url) as connection:
        assert connection.get("kept") == b"42"


def test_what_was_acknowledged_a_second_ago_survives_a_kill(tmp_path: Path) -> None:
    server = EmbeddedValkey(folder=tmp_path)
    server.start()
    try:
        with client(server.url) as connection:
            connection.set("kept", "42")
            connection.execute_command("WAITAOF", 1, 0, 5000)
        os.kill(server.pid, signal.SIGKILL)
        server.stop()
        server.start()
        with client(server.url) as connection:
            assert connection.get("kept") == b"42"
    finally:
        server.stop()


def test_a_second_start_finds_the_running_server_and_leaves_it_running(tmp_path: Path) -> None:
    with embedded_valkey(tmp_path) as first:
        with embedded_valkey(tmp_path) as second:
            assert second == first
        with client(first) as connection:
            assert connection.ping()


def test_the_password_is_in_a_file_that_others_cannot_read_and_no_message_is_dropped(tmp_path: Path) -> None:
    with embedded_valkey(tmp_path) as url, client(url) as connection:
        assert stat.S_IMODE((tmp_path / "valkey.conf").stat().st_mode) == 0o600
        assert connection.config_get("maxmemory-policy") == {"maxmemory-policy": "noeviction"}
        assert connection.config_get("appendonly") == {"appendonly": "yes"}
        assert connection.config_get("bind") == {"bind": "127.0.0.1"}
        with (
            client(url.replace("redis://:", "redis://:wrong")) as stranger,
            pytest.raises(redis.AuthenticationError),
        ):
            stranger.ping()


def test_a_folder_with_a_space_in_its_name_is_no_trouble(tmp_path: Path) -> None:
    with embedded_valkey(tmp_path / "my jobs") as url, client(url) as connection:
        assert connection.ping()


def test_a_server_that_cannot_start_is_reported_with_its_log(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with embedded_valkey(tmp_path / "other") as url:
        taken = int(url.rpartition(":")[2].split("/")[0])
        monkeypatch.setattr(processes, "free_port", lambda: taken)
        with pytest.raises(LocalServerError, match="Address already in use"):
            EmbeddedValkey(folder=tmp_path / "own").start()
