"""Fixtures that every test may ask for.

`postgres_server`  (session) a superuser's address of a Postgres server
`valkey_server`    (session) the address of a broker, shared by all tests: flush it, or use names of your own
`fresh_database`   (a test)  a migrated database of its own: `.migration_url`, `.app_url`, `.queue_url`,
                             `.name`, `.environment()`; the type is `tests.support.databases.FreshDatabase`
"""

from collections.abc import Iterator
from pathlib import Path

from slab_base.threads import one_thread
from tests.support.kernels import keep_kernels_together

one_thread()
keep_kernels_together()

import pytest  # noqa: E402 - the variables come before anything that may load numpy or numba

from tests.support.databases import FreshDatabase, copied_database, migrated_template  # noqa: E402 - the same
from tests.support.servers import running_postgres, running_valkey  # noqa: E402 - the same

TESTS = Path(__file__).parent
FIRST = ("worker", "e2e", "integration", "api")
"""Folders whose files may take half a minute, as their tests start services and wait for them."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Long files begin first: else one of two processes ends with them while the other has nothing left."""
    items.sort(key=lambda item: [name not in item.path.relative_to(TESTS).parts[:1] for name in FIRST])


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """A file of long tests alone is not read where none are wanted: making up its cases can take ten seconds,
    in each process."""
    if config.getoption("markexpr") != "not long" or collection_path.suffix != ".py":
        return None
    return True if "\npytestmark = pytest.mark.long\n" in collection_path.read_text() else None


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[str]:
    """A superuser's address of a Postgres server."""
    with running_postgres() as url:
        yield url


@pytest.fixture(scope="session")
def valkey_server() -> Iterator[str]:
    """The address of a broker."""
    with running_valkey() as url:
        yield url


@pytest.fixture(scope="session")
def database_template(postgres_server: str) -> Iterator[str]:
    """The name of a migrated database; only `fresh_database` uses it."""
    with migrated_template(superuser_url=postgres_server) as name:
        yield name


@pytest.fixture
def fresh_database(postgres_server: str, database_template: str) -> Iterator[FreshDatabase]:
    """A migrated database of the test's own."""
    with copied_database(superuser_url=postgres_server, template=database_template) as database:
        yield database
