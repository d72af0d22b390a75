"""A crew on a database of the test's own and the shared broker, emptied."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.crew import Crew, crew_of
from tests.support.databases import FreshDatabase


@pytest.fixture
def crew(fresh_database: FreshDatabase, valkey_server: str, tmp_path: Path) -> Iterator[Crew]:
    """No process is started yet."""
    with crew_of(fresh=fresh_database, broker_url=valkey_server, folder=tmp_path) as made:
        yield made
