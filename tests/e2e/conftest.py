"""One running service for the tests that go all the way, and a client with a key of its own organisation."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest

from slab_local.place import keep_kernels, throwaway_home
from slab_local.stack import Stack, running_stack
from tests.e2e.client import Client


@pytest.fixture(scope="session")
def service() -> Iterator[Stack]:
    """API, worker, relay, Postgres and broker, as `dev.py up` starts them."""
    keep_kernels(project=Path.cwd())
    with throwaway_home() as home, running_stack(home=home, report=print, durable=False, port=0) as stack:
        yield stack


@pytest.fixture(scope="session")
def client(service: Stack) -> Iterator[Client]:
    """A client that may do everything in one organisation."""
    with _client(service, name="Invented Floors") as client:
        yield client


@pytest.fixture
def newcomer(service: Stack) -> Iterator[Client]:
    """A client of an organisation of its own, whose books a test may change."""
    with _client(service, name="Newly Founded Floors") as client:
        yield client


@contextmanager
def _client(service: Stack, *, name: str) -> Iterator[Client]:
    key = service.new_key(organisation=name)
    headers = {"Authorization": f"Bearer {key}"}
    with httpx.Client(base_url=service.base_url, headers=headers, timeout=60) as http:
        yield Client(http)
