"""Lists are walked with cursors."""

import threading
from uuid import uuid4

import psycopg
import pytest

from slab_base.ids import new_id
from tests.support.api import Firm, Service
from tests.support.problems import code_of
from tests.support.records import job_record


def test_a_walk_during_inserts_neither_doubles_nor_skips(service: Service, firm: Firm) -> None:
    before = _add_many_jobs(service, firm, 10_000)
    stop = threading.Event()

    def insert() -> None:
        while not stop.is_set():
            _add_jobs(service, firm, 5)

    inserting = threading.Thread(target=insert)
    inserting.start()
    try:
        seen = _walk(firm, size=137)
    finally:
        stop.set()
        inserting.join()
    assert len(seen) == len(set(seen))
    assert before <= set(seen)
    assert seen == sorted(seen, reverse=True)


def test_a_page_has_no_more_than_two_hundred_whatever_is_asked_for(service: Service, firm: Firm) -> None:
    _add_jobs(service, firm, 201)
    page = firm.client.get("/v1/jobs?page_size=100000").json()
    assert len(page["items"]) == 200
    rest = firm.client.get("/v1/jobs", params={"cursor": page["next"]}).json()
    assert len(rest["items"]) == 1
    assert rest["next"] is None


@pytest.mark.parametrize("size", ["0", "-1", "x", "1.5", "١"])
def test_a_size_that_is_none_is_refused(firm: Firm, size: str) -> None:
    assert code_of(firm.client.get("/v1/jobs", params={"page_size": size})) == "invalid-parameter"


def test_a_cursor_is_only_good_for_its_own_list_and_filters(service: Service, firm: Firm) -> None:
    _add_jobs(service, firm, 3)
    cursor = firm.client.get("/v1/jobs?page_size=1").json()["next"]
    for path in ("/v1/estimates", "/v1/rates", f"/v1/estimates?job_id={uuid4()}"):
        assert code_of(firm.client.get(path, params={"cursor": cursor})) == "invalid-cursor"
    for broken in ("", "x", cursor[:-2], cursor + "AA", "é"):
        assert code_of(firm.client.get("/v1/jobs", params={"cursor": broken})) == "invalid-cursor"


def test_a_filter_with_a_nul_character_is_refused(firm: Firm) -> None:
    for path in ("/v1/stock?product=a%00", "/v1/learned-rates?crew=%00"):
        answer = firm.client.get(path)
        assert code_of(answer) == "invalid-parameter"
        assert "NUL" in answer.json()["detail"]


def test_a_mistyped_filter_is_refused_and_not_ignored(firm: Firm) -> None:
    assert code_of(firm.client.get("/v1/estimates?jobid=1")) == "invalid-parameter"


def test_a_filter_that_is_given_twice_is_refused_by_its_name(firm: Firm) -> None:
    answer = firm.client.get("/v1/learned-rates?crew=north&crew=south")
    assert code_of(answer) == "invalid-parameter"
    assert "crew more than once" in answer.json()["detail"]


def _add_jobs(service: Service, firm: Firm, count: int) -> set[str]:
    ids = [new_id() for _ in range(count)]
    with service.database.for_organisation(firm.organisation) as uow:
        for id_ in ids:
            uow.jobs.add(id=id_, name="x", document=job_record(), actor="test", trace_id="")
        uow.commit()
    return {str(id_) for id_ in ids}


def _add_many_jobs(service: Service, firm: Firm, count: int) -> set[str]:
    """Rows with ids of any version, as clients make them, put there in one go."""
    with psycopg.connect(service.urls.migration_url) as owner:
        rows = owner.execute(
            "INSERT INTO jobs (organisation, id, name, document, created_by, updated_by)"
            " SELECT %s, gen_random_uuid(), 'x', '{}', 'test', 'test' FROM generate_series(1, %s)"
            " RETURNING id",
            (firm.organisation, count),
        ).fetchall()
    return {str(row[0]) for row in rows}


def _walk(firm: Firm, *, size: int) -> list[str]:
    seen: list[str] = []
    params = {"page_size": str(size)}
    while True:
        page = firm.client.get("/v1/jobs", params=params).json()
        seen += [item["id"] for item in page["items"]]
        if page["next"] is None:
            return seen
        params["cursor"] = page["next"]
