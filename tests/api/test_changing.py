"""Changes: no update is lost."""

from concurrent.futures import ThreadPoolExecutor

import httpx
import pytest

from tests.support.api import Firm, Service
from tests.support.problems import code_of, pointers_of
from tests.support.records import job_record, room_record


def test_a_change_names_the_version_it_is_based_on(firm: Firm) -> None:
    made = firm.post("/v1/jobs", job_record())
    path = made.headers["location"]
    assert code_of(firm.client.patch(path, json={"name": "B"})) == "if-match-required"
    changed = firm.client.patch(path, json={"name": "B"}, headers={"if-match": made.headers["etag"]})
    assert changed.json()["document"] == {**made.json()["document"], "name": "B"}
    assert changed.json()["version"] == 2
    stale = firm.client.patch(path, json={"name": "C"}, headers={"if-match": made.headers["etag"]})
    assert code_of(stale) == "version-stale"
    assert firm.client.get(path).headers["etag"] == changed.headers["etag"]
    assert firm.client.get(path, headers={"if-none-match": changed.headers["etag"]}).status_code == 304


@pytest.mark.parametrize("tag", ["v1", 'W/"v1"', '"1"', "*", '"v1", "v2"'])
def test_a_tag_that_is_not_the_records_never_matches(firm: Firm, tag: str) -> None:
    path = firm.post("/v1/jobs", job_record()).headers["location"]
    answer = firm.client.patch(path, json={"name": "B"}, headers={"if-match": tag})
    assert code_of(answer) == "version-stale"


def test_twenty_changes_at_once_with_one_tag_make_one(service: Service, firm: Firm) -> None:
    job = firm.post("/v1/jobs", job_record()).json()["id"]
    made = firm.post(f"/v1/jobs/{job}/rooms", room_record())

    def change(number: int) -> httpx.Response:
        with service.client(firm.key) as client:
            return client.patch(
                made.headers["location"],
                json={"name": f"Room {number}"},
                headers={"if-match": made.headers["etag"]},
            )

    with ThreadPoolExecutor(20) as pool:
        answers = list(pool.map(change, range(20)))
    assert sorted(answer.status_code for answer in answers) == [200] + [412] * 19
    winner = next(answer for answer in answers if answer.status_code == 200)
    assert firm.client.get(made.headers["location"]).json() == winner.json()
    assert winner.json()["version"] == 2


def test_a_change_is_checked_with_the_rest_of_the_record(firm: Firm) -> None:
    job = firm.post("/v1/jobs", job_record()).json()["id"]
    room = firm.post(f"/v1/jobs/{job}/rooms", room_record()).headers["location"]
    bad = firm.client.patch(
        room, json={"outline": [[0, 0], [9, 9], [9, 0], [0, 9]]}, headers={"if-match": '"v1"'}
    )
    assert code_of(bad) == "invalid-document"
    assert any(pointer.startswith("/outline") for pointer in pointers_of(bad))
    assert firm.client.get(room).json()["version"] == 1
