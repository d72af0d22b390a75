"""A real API in a thread: sockets, event loop, threads, and a database of its own."""

import asyncio
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from tempfile import TemporaryDirectory
from typing import Any
from uuid import UUID, uuid4

import httpx
import uvicorn

from slab_api.app import create_app
from slab_app.actions.keys import add_key
from slab_app.organisation import create
from slab_base.settings import load_settings
from slab_store.database import Database
from slab_store.keys import Role
from tests.support.databases import FreshDatabase


@dataclass(frozen=True, kw_only=True)
class Firm:
    """One organisation with an office key, and a client that uses it."""

    organisation: UUID
    key: str
    client: httpx.Client

    def post(self, path: str, body: Any, **headers: str) -> httpx.Response:
        """POST JSON with a new idempotency key unless one is given."""
        names = {name.replace("_", "-"): value for name, value in headers.items()}
        return self.client.post(path, json=body, headers={"idempotency-key": str(uuid4()), **names})


@dataclass(frozen=True, kw_only=True)
class Service:
    """A running API, its database, and firms made on demand."""

    url: str
    database: Database
    urls: FreshDatabase
    app: Any
    clients: ExitStack

    def firm(self, name: str = "Level Lane Floors") -> Firm:
        """A new organisation."""
        key = create(self.database, name=name)
        return Firm(organisation=key.organisation, key=key.text(), client=self.client(key.text()))

    def key(self, organisation: UUID, role: Role) -> httpx.Client:
        """A client with a further key of an organisation."""
        with self.database.for_organisation(organisation) as uow:
            return self.client(add_key(uow, role=role).text())

    def client(self, key: str | None = None) -> httpx.Client:
        """A client of this service alone, whatever proxies the environment names."""
        headers = {"authorization": f"Bearer {key}"} if key else {}
        client = httpx.Client(base_url=self.url, headers=headers, timeout=30, trust_env=False)
        self.clients.callback(client.close)
        return client


@contextmanager
def running_api(urls: FreshDatabase, **settings: str) -> Iterator[Service]:
    """The API on a free port of the loopback address, with a folder of its own for files."""
    with TemporaryDirectory(prefix="api-files-") as folder:
        yield from _running(urls, {"storage_dir": folder, **settings})


def _running(urls: FreshDatabase, settings: dict[str, str]) -> Iterator[Service]:
    environ = {**urls.environment(), **{f"SLABWRIGHT_{k.upper()}": v for k, v in settings.items()}}
    app = create_app(load_settings(environ=environ))
    server = uvicorn.Server(
        uvicorn.Config(app, host="127.0.0.1", port=0, log_config=None, access_log=False, lifespan="on")
    )
    thread = threading.Thread(target=lambda: asyncio.run(server.serve()), daemon=True)
    thread.start()
    while not server.started:
        if not thread.is_alive():
            raise RuntimeError("the API did not start")
        time.sleep(0.01)
    port = server.servers[0].sockets[0].getsockname()[1]
    database = Database(application_url=urls.app_url, pool_size=5, name="tests")
    try:
        with ExitStack() as clients:
            yield Service(
                url=f"http://127.0.0.1:{port}", database=database, urls=urls, app=app, clients=clients
            )
    finally:
        database.close()
        server.should_exit = True
        thread.join(timeout=20)


def valid_job(**changes: Any) -> dict[str, Any]:
    """A small job of our own invention: a garden room of 14 ft 6 in by 11 ft with twelve rod readings."""
    return {
        "name": "Garden room, Alder Lane",
        "units": {"length": "ft", "height": "in"},
        "benchmarks": [{"id": "door sill", "elevation": 0}],
        "tolerance": {"rules": [{"length": "10 ft", "gap": "3/16 in"}]},
        "rooms": [
            {
                "id": "garden",
                "name": "Garden room",
                "outline": [[0, 0], ["14' 6\"", 0], ["14' 6\"", 11], [0, 11]],
                "openings": [
                    {
                        "id": "hall door",
                        "from": [3, 0],
                        "to": [6, 0],
                        "threshold": {"height": ["1/4 in", "1 1/2 in"], "transition": "reducer"},
                    }
                ],
            }
        ],
        "surveys": [
            {
                "id": "first visit",
                "setups": [{"id": "A", "instrument": "optical-level"}],
                "sights": [{"setup": "A", "target": "door sill", "rod": 46.25}],
                "readings": [
                    {
                        "kind": "rod",
                        "setup": "A",
                        "x": [1, 5, 9, 13, 1, 5, 9, 13, 1, 5, 9, 13],
                        "y": [1, 1, 1, 1, 5.5, 5.5, 5.5, 5.5, 10, 10, 10, 10],
                        "value": [46.3, 46.4, 46.5, 46.4, 46.5, 46.8, 46.9, 46.6, 46.4, 46.6, 46.6, 46.5],
                        "position_sd": "2 in",
                    }
                ],
            }
        ],
        **changes,
    }
