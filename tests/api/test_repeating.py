"""Retries: one thing is made once, however often it is asked for."""

from concurrent.futures import ThreadPoolExecutor
from uuid import uuid4

import httpx

from tests.support.api import Firm, Service, valid_job
from tests.support.problems import code_of
from tests.support.records import job_record


def test_a_post_that_creates_needs_an_idempotency_key(firm: Firm) -> None:
    assert code_of(firm.client.post("/v1/jobs", json=job_record())) == "idempotency-key-missing"
    assert firm.client.get("/v1/jobs").json()["items"] == []


def test_a_repeated_post_gets_the_first_answer_byte_for_byte(firm: Firm) -> None:
    key = str(uuid4())
    first = firm.post("/v1/estimates", valid_job(), idempotency_key=key)
    firm.client.post(f"{first.headers['location']}/cancel")
    again = firm.post("/v1/estimates", valid_job(), idempotency_key=key)
    assert again.content == first.content
    assert (again.status_code, again.headers["location"]) == (202, first.headers["location"])
    assert again.headers["idempotency-replayed"] == "true"
    assert len(firm.client.get("/v1/estimates").json()["items"]) == 1


def test_the_same_key_with_another_body_or_path_is_refused(firm: Firm) -> None:
    key = str(uuid4())
    firm.post("/v1/jobs", job_record(), idempotency_key=key)
    other = firm.post("/v1/jobs", job_record(name="Another"), idempotency_key=key)
    assert code_of(other) == "idempotency-key-reused"
    assert code_of(firm.post("/v1/rates", job_record(), idempotency_key=key)) == "idempotency-key-reused"
    assert len(firm.client.get("/v1/jobs").json()["items"]) == 1


def test_a_refused_post_does_not_use_the_key_up(firm: Firm) -> None:
    key = str(uuid4())
    assert code_of(firm.post("/v1/jobs", {"name": ""}, idempotency_key=key)) == "invalid-document"
    assert firm.post("/v1/jobs", job_record(), idempotency_key=key).status_code == 201


def test_fifty_posts_at_once_with_one_key_make_one(service: Service, firm: Firm) -> None:
    key = str(uuid4())

    def post(_: int) -> httpx.Response:
        with service.client(firm.key) as client:
            return client.post("/v1/estimates", json=valid_job(), headers={"idempotency-key": key})

    with ThreadPoolExecutor(50) as pool:
        answers = list(pool.map(post, range(50)))
    made = [answer for answer in answers if answer.status_code == 202]
    assert made
    assert len({answer.content for answer in made}) == 1
    rest = [answer for answer in answers if answer.status_code != 202]
    assert {code_of(answer) for answer in rest} <= {"idempotency-key-in-use"}
    assert len(firm.client.get("/v1/estimates").json()["items"]) == 1


def test_an_id_that_is_taken_is_refused_and_the_first_record_stands(firm: Firm) -> None:
    first = firm.post("/v1/jobs", job_record()).json()
    answer = firm.post("/v1/jobs", job_record(id=first["id"], name="Another"))
    assert code_of(answer) == "already-exists"
    assert firm.client.get(f"/v1/jobs/{first['id']}").json() == first


def test_cancelling_twice_changes_nothing_more(firm: Firm) -> None:
    path = firm.post("/v1/estimates", valid_job()).headers["location"]
    first = firm.client.post(f"{path}/cancel").json()
    assert first["state"] == "cancelled"
    assert {step["state"] for step in first["steps"]} == {"skipped"}
    assert firm.client.post(f"{path}/cancel").json() == first
    assert firm.client.get(path).json() == first
