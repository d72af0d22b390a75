"""One organisation's key opens nothing of another's; generated from the routes, so none can be forgotten."""

from typing import Any

import pytest

from slab_api.app import bare_app
from slab_api.bodies.read import OCTETS
from slab_api.openapi import openapi_document
from tests.support.api import Firm, Service, valid_job
from tests.support.problems import code_of, pointers_of
from tests.support.records import SCAN_FILE, job_record, one_of_each, room_record, survey_record

_DOCUMENT = openapi_document(bare_app(base_url="http://x"))
_OPERATIONS = [
    (verb, path, operation)
    for path, verbs in _DOCUMENT["paths"].items()
    for verb, operation in verbs.items()
    if "{id}" in path
]


@pytest.fixture(scope="module")
def owner(service: Service) -> Firm:
    return service.firm("The owner of the records")


@pytest.fixture(scope="module")
def ids(service: Service, owner: Firm) -> dict[str, str]:
    return one_of_each(service, owner)


@pytest.mark.parametrize(
    ("verb", "path", "operation"), _OPERATIONS, ids=[f"{verb} {path}" for verb, path, _ in _OPERATIONS]
)
def test_anothers_id_is_not_found_and_nothing_changes(
    firm: Firm, owner: Firm, ids: dict[str, str], verb: str, path: str, operation: dict[str, Any]
) -> None:
    before = _everything(owner, ids)
    headers = {"idempotency-key": f"{verb}{path}".replace(" ", ""), "if-match": '"v1"'}
    url = path.format(id=ids[path.split("/")[2]], n=1, scan=ids["scans"])
    content = operation.get("requestBody", {}).get("content", {})
    body = content.get("application/json", {}).get("example")
    sent: dict[str, Any] = {"json": body}
    if OCTETS in content:
        headers, sent = {**headers, "content-type": OCTETS}, {"content": SCAN_FILE}
    answer = firm.client.request(verb.upper(), url, headers=headers, **sent)
    assert code_of(answer) == "not-found", answer.text
    assert _everything(owner, ids) == before


def test_lists_show_only_ones_own(firm: Firm, ids: dict[str, str]) -> None:
    books = ("price-books", "catalogues", "rates", "calendars", "crews")
    for path in ("jobs", "estimates", "quotes", "firm-schedules", "crew-calendars", "stock", *books):
        assert firm.client.get(f"/v1/{path}").json() == {"items": [], "next": None}
    assert firm.client.get(f"/v1/estimates?job_id={ids['jobs']}").json()["items"] == []


def test_anothers_ids_inside_a_body_are_unknown(firm: Firm, ids: dict[str, str]) -> None:
    answer = firm.post("/v1/estimates", valid_job(price_book=ids["price-books"]))
    assert pointers_of(answer) == ["/price_book"]
    job = firm.post("/v1/jobs", job_record()).json()["id"]
    firm.post(f"/v1/jobs/{job}/rooms", room_record())
    survey = firm.post(f"/v1/jobs/{job}/surveys", survey_record()).json()["id"]
    firm.client.post(f"/v1/surveys/{survey}/close", json={"chunks": 0})
    answer = firm.post(f"/v1/jobs/{job}/estimates", {"surveys": [survey, ids["surveys"]]})
    assert pointers_of(answer) == ["/surveys/1"]


def test_anothers_scan_is_not_found_in_a_survey_of_ones_own(firm: Firm, ids: dict[str, str]) -> None:
    job = firm.post("/v1/jobs", job_record()).json()["id"]
    survey = firm.post(f"/v1/jobs/{job}/surveys", survey_record()).json()["id"]
    assert code_of(firm.client.get(f"/v1/surveys/{survey}/scans/{ids['scans']}")) == "not-found"
    mine = firm.client.put(
        f"/v1/surveys/{survey}/scans/{ids['scans']}", content=b"9 9 9\n", headers={"content-type": OCTETS}
    )
    assert mine.status_code == 200, "an id that another organisation uses is as good as any"


def test_two_firms_may_use_the_same_id_and_the_same_idempotency_key(firm: Firm, ids: dict[str, str]) -> None:
    answer = firm.post("/v1/jobs", job_record(id=ids["jobs"]), idempotency_key="same for both")
    assert code_of(answer) == "idempotency-key-missing"  # a space is not allowed in it
    answer = firm.post("/v1/jobs", job_record(id=ids["jobs"]), idempotency_key="same-for-both")
    assert answer.status_code == 201
    assert answer.json()["id"] == ids["jobs"]


def _everything(owner: Firm, ids: dict[str, str]) -> list[str]:
    paths = {path: f"/v1/{path}/{id_}" for path, id_ in ids.items()}
    paths["scans"] = f"{paths['surveys']}/scans/{ids['scans']}"
    return [owner.client.get(path).raise_for_status().text for path in paths.values()]
