"""The servers that tests run on."""

import socket
from urllib.parse import urlsplit

import psycopg
import pytest

from tests.support.databases import copied_database


def test_the_test_server_is_a_superusers_and_speaks_utf8(postgres_server: str) -> None:
    with psycopg.connect(postgres_server) as connection:
        row = connection.execute("select rolsuper from pg_roles where rolname = current_user").fetchone()
        assert row == (True,)
        assert connection.execute("show server_encoding").fetchone() == ("UTF8",)


def test_copies_of_a_template_are_separate_and_gone_afterwards(postgres_server: str) -> None:
    with copied_database(superuser_url=postgres_server, template="template0") as first:
        with copied_database(superuser_url=postgres_server, template="template0") as second:
            with psycopg.connect(first.migration_url) as connection:
                connection.execute("create table only_here (n int)")
            with psycopg.connect(second.migration_url) as connection:
                assert connection.execute("select to_regclass('only_here')").fetchone() == (None,)
        with pytest.raises(psycopg.OperationalError, match="does not exist"):
            psycopg.connect(second.migration_url)


def test_the_broker_refuses_a_stranger(valkey_server: str) -> None:
    parts = urlsplit(valkey_server)
    if not parts.password:
        pytest.skip("the broker given by TEST_BROKER_URL or a container has no password")
    with socket.create_connection((str(parts.hostname), int(parts.port or 6379)), timeout=5) as connection:
        connection.sendall(b"PING\r\n")
        assert connection.recv(100).startswith(b"-NOAUTH")
