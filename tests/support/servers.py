"""Servers for tests: a container when a Docker daemon answers, else the embedded server; made once a session.

Two variables name servers to use instead: TEST_POSTGRES_URL (a superuser's address) and TEST_BROKER_URL.
"""

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from slab_local.postgres import embedded_postgres
from slab_local.valkey import embedded_valkey

POSTGRES_IMAGE = os.environ.get("TEST_POSTGRES_IMAGE", "postgres:17-alpine")
VALKEY_IMAGE = os.environ.get("TEST_VALKEY_IMAGE", "valkey/valkey:8-alpine")


@contextmanager
def running_postgres() -> Iterator[str]:
    """A superuser's address of a Postgres server that is thrown away at the end."""
    if given := os.environ.get("TEST_POSTGRES_URL"):
        yield given
    elif image_at_hand(image=POSTGRES_IMAGE):
        yield from _postgres_container()
    else:
        with throwaway_folder() as folder, embedded_postgres(folder / "postgres", durable=False) as url:
            yield url


@contextmanager
def running_valkey() -> Iterator[str]:
    """The address of a broker that is thrown away at the end."""
    if given := os.environ.get("TEST_BROKER_URL"):
        yield given
    elif image_at_hand(image=VALKEY_IMAGE):
        yield from _valkey_container()
    else:
        with throwaway_folder() as folder, embedded_valkey(folder / "valkey") as url:
            yield url


@contextmanager
def throwaway_folder() -> Iterator[Path]:
    """A folder that other accounts can pass through, as Postgres may have to run under another one."""
    folder = Path(tempfile.mkdtemp(prefix="slab-test-"))
    folder.chmod(0o711)
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def image_at_hand(*, image: str) -> bool:
    """Whether a Docker daemon answers and has the image: no test downloads one."""
    if shutil.which("docker") is None:
        return False
    command = ["docker", "image", "inspect", "--format", "{{.Id}}", image]
    try:
        return subprocess.run(command, capture_output=True, check=False, timeout=5).returncode == 0
    except subprocess.TimeoutExpired:
        return False


def _postgres_container() -> Iterator[str]:
    from testcontainers.community.postgres import (
        PostgresContainer,
    )  # here: it asks for the daemon when imported

    container: Any = PostgresContainer(POSTGRES_IMAGE, username="slab_admin", dbname="postgres", driver=None)
    with container as server:
        yield server.get_connection_url()


def _valkey_container() -> Iterator[str]:
    from testcontainers.core.container import DockerContainer  # here: it asks for the daemon when imported
    from testcontainers.core.wait_strategies import LogMessageWaitStrategy

    ready = LogMessageWaitStrategy("Ready to accept connections")
    container: Any = DockerContainer(VALKEY_IMAGE).with_exposed_ports(6379).waiting_for(ready)
    with container as server:
        yield f"redis://{server.get_container_host_ip()}:{server.get_exposed_port(6379)}/0"
