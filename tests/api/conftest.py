"""A running API for all tests of this folder. Each test has a firm of its own and sees no other records."""

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.support.api import Firm, Service, running_api
from tests.support.databases import FreshDatabase, copied_database
from tests.support.own_worker import OwnWorker, drop_left_over, own_worker


@pytest.fixture(scope="session")
def service(postgres_server: str, database_template: str) -> Iterator[Service]:
    """The API on a socket, shared."""
    with (
        copied_database(superuser_url=postgres_server, template=database_template) as urls,
        running_api(urls) as running,
    ):
        yield running


@pytest.fixture
def own_service(fresh_database: FreshDatabase) -> Iterator[Service]:
    """The API with a database of the test's own, for what would disturb others."""
    with running_api(fresh_database) as running:
        yield running


@pytest.fixture
def firm(service: Service) -> Iterator[Firm]:
    """A new organisation."""
    made = service.firm()
    with made.client:
        yield made


@pytest.fixture(scope="module", autouse=True)
def began() -> datetime:
    """When the tests of a file began."""
    return datetime.now(UTC)


@pytest.fixture(scope="module")
def worker(service: Service, began: datetime) -> Iterator[OwnWorker]:
    """Computes what a file's tests post to the shared service, when it is asked to."""
    drop_left_over(service.urls, before=began)
    with own_worker(service.urls) as working:
        yield working


@pytest.fixture(scope="module")
def owner(service: Service) -> Firm:
    """An organisation whose records several tests of a file read."""
    return service.firm()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where uploaded files are kept."""
    return tmp_path_factory.mktemp("files")


@pytest.fixture(scope="module")
def scanning(postgres_server: str, database_template: str, folder: Path) -> Iterator[Service]:
    """A service whose files a worker reads too."""
    with (
        copied_database(superuser_url=postgres_server, template=database_template) as urls,
        running_api(urls, storage_dir=str(folder)) as running,
    ):
        yield running


@pytest.fixture(scope="module")
def scanner(scanning: Service, folder: Path) -> Iterator[OwnWorker]:
    """Computes what is posted to that service."""
    with own_worker(scanning.urls, files=folder) as working:
        yield working
