"""A running API with a database of the test's own."""

from collections.abc import Iterator

import pytest

from tests.support.api import Firm, Service, running_api
from tests.support.databases import FreshDatabase


@pytest.fixture
def service(fresh_database: FreshDatabase) -> Iterator[Service]:
    """The API on a socket."""
    with running_api(fresh_database) as running:
        yield running


@pytest.fixture
def firm(service: Service) -> Iterator[Firm]:
    """One organisation of the service."""
    made = service.firm()
    with made.client:
        yield made
