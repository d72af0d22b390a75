"""What goes on beside requests must not spoil them: probes, and noting that a key was used."""

import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from slab_api import call
from slab_api.routes import operations
from slab_store.errors import DatabaseUnavailable
from tests.support.api import Service, running_api
from tests.support.databases import FreshDatabase
from tests.support.records import job_record


def test_a_database_that_does_not_answer_makes_the_process_unready_and_is_no_fault_of_it(
    service: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    def slow(_database: object) -> tuple[str, ...]:
        time.sleep(1)
        return ()

    monkeypatch.setattr(operations, "unready_reasons", slow)
    monkeypatch.setattr(operations, "_PATIENCE_SECONDS", 0.1)
    with service.client() as client:
        answer = client.get("/readyz")
    assert answer.status_code == 503
    assert "has not answered" in answer.json()["reasons"][0]


def test_a_request_stands_though_the_use_of_its_key_could_not_be_noted(
    service: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    def gone(*_: object, **__: object) -> None:
        raise DatabaseUnavailable("Postgres cannot be reached")

    monkeypatch.setattr(call, "note_use", gone)
    firm = service.firm()
    made = firm.post("/v1/jobs", job_record())
    assert made.status_code == 201, made.text
    assert firm.client.get(made.headers["location"]).status_code == 200


def test_two_connections_serve_fifty_posts_at_once(fresh_database: FreshDatabase) -> None:
    with running_api(fresh_database, pool_size="2") as service:
        firm = service.firm()
        with ThreadPoolExecutor(50) as pool:
            answers = list(pool.map(lambda _: firm.post("/v1/jobs", job_record()).status_code, range(50)))
        assert answers == [201] * 50
