"""Uploading a survey from a place with bad reception."""

import base64
import hashlib
import random
from concurrent.futures import ThreadPoolExecutor
from io import BytesIO
from typing import Any

import httpx
import nanoarrow
import numpy as np
import pytest
from nanoarrow.ipc import StreamWriter

from slab_app.codec import Encoded, decode
from slab_core.job import Job
from tests.support.api import Firm, Service
from tests.support.problems import code_of, pointers_of
from tests.support.records import job_record, room_record, survey_record

ARROW = "application/vnd.apache.arrow.stream"


def _chunk(number: int) -> dict[str, Any]:
    return {"kind": "rod", "x": [1, 2, 3], "y": [1, 1, number], "value": [46.5, 46.6, 46.4 + number / 100]}


def _survey(firm: Firm, **changes: Any) -> tuple[str, str]:
    job = firm.post("/v1/jobs", job_record()).json()["id"]
    firm.post(f"/v1/jobs/{job}/rooms", room_record())
    survey = firm.post(f"/v1/jobs/{job}/surveys", survey_record(readings=[], **changes))
    assert survey.status_code == 201, survey.text
    return job, survey.headers["location"]


def test_chunks_in_any_order_and_any_number_of_times_make_one_survey(service: Service, firm: Firm) -> None:
    job, path = _survey(firm)
    order = [1, 2, 3, 4, 5] * 3
    random.Random(7).shuffle(order)
    answers: dict[int, set[bytes]] = {}
    for number in order:
        answer = firm.client.put(f"{path}/chunks/{number}", json=_chunk(number))
        assert answer.status_code == 200, answer.text
        answers.setdefault(number, set()).add(answer.content)
    assert all(len(same) == 1 for same in answers.values())
    assert firm.client.post(f"{path}/close", json={"chunks": 5}).json()["state"] == "closed"
    estimate = firm.post(f"/v1/jobs/{job}/estimates", {})
    assert estimate.status_code == 202, estimate.text
    assert estimate.json()["job_id"] == job
    with service.database.for_organisation(firm.organisation) as uow:
        stored = uow.runs.input(run_id=estimate.json()["id"])
    assert stored is not None
    posted = decode(Job, Encoded(json=stored.json, arrays=stored.arrays))
    assert [float(readings.y_m[2]) for readings in posted.surveys[0].readings] == [
        n * 0.3048 for n in (1, 2, 3, 4, 5)
    ]


def test_another_content_for_the_same_number_is_refused_and_the_first_stands(firm: Firm) -> None:
    _, path = _survey(firm)
    first = firm.client.put(f"{path}/chunks/1", json=_chunk(1))
    assert code_of(firm.client.put(f"{path}/chunks/1", json=_chunk(2))) == "chunk-differs"
    assert firm.client.put(f"{path}/chunks/1", json=_chunk(1)).content == first.content


def test_uploads_of_one_chunk_at_once_keep_it_once(service: Service, firm: Firm) -> None:
    _, path = _survey(firm)

    def put(number: int) -> httpx.Response:
        with service.client(firm.key) as client:
            return client.put(f"{path}/chunks/1", json=_chunk(number % 2))

    with ThreadPoolExecutor(16) as pool:
        answers = list(pool.map(put, range(16)))
    assert {answer.status_code for answer in answers} == {200, 409}
    assert len({answer.content for answer in answers if answer.status_code == 200}) == 1
    assert len(firm.client.get(path).json()["chunks"]) == 1


def test_closing_names_the_chunks_that_are_missing_or_too_many(firm: Firm) -> None:
    _, path = _survey(firm)
    for number in (1, 3, 6):
        firm.client.put(f"{path}/chunks/{number}", json=_chunk(number))
    answer = firm.client.post(f"{path}/close", json={"chunks": 5})
    assert code_of(answer) == "chunks-missing"
    said = [fault["detail"] for fault in answer.json()["errors"]]
    assert said == [
        "chunk 2 is missing",
        "chunk 4 is missing",
        "chunk 5 is missing",
        "chunk 6 is beyond the count",
    ]
    assert firm.client.get(path).json()["state"] == "open"


def test_a_closed_survey_takes_no_new_chunk_but_still_answers_for_an_old_one(firm: Firm) -> None:
    _, path = _survey(firm)
    first = firm.client.put(f"{path}/chunks/1", json=_chunk(1))
    closed = firm.client.post(f"{path}/close", json={"chunks": 1})
    assert firm.client.post(f"{path}/close", json={"chunks": 1}).json() == closed.json()
    assert code_of(firm.client.put(f"{path}/chunks/2", json=_chunk(2))) == "survey-closed"
    assert firm.client.put(f"{path}/chunks/1", json=_chunk(1)).content == first.content
    assert code_of(firm.client.post(f"{path}/close", json={"chunks": 2})) == "chunks-missing"


def test_a_digest_that_does_not_fit_the_body_is_refused(firm: Firm) -> None:
    _, path = _survey(firm)
    body = b'{"kind": "rod", "x": [1], "y": [1], "value": [46]}'
    digest = base64.b64encode(hashlib.sha256(body).digest()).decode()
    headers = {"content-type": "application/json", "content-digest": f"sha-256=:{digest}:"}
    cut = firm.client.put(f"{path}/chunks/1", content=body[:-1], headers=headers)
    assert code_of(cut) == "digest-mismatch"
    assert firm.client.get(path).json()["chunks"] == []
    whole = firm.client.put(f"{path}/chunks/1", content=body, headers=headers)
    assert whole.json()["content_digest"] == f"sha-256=:{digest}:"


def test_arrow_columns_mean_the_same_as_json_columns(service: Service, firm: Firm) -> None:
    job, path = _survey(firm)
    chunk = _chunk(1)
    columns = {"x": chunk["x"], "y": chunk["y"], "rod": chunk["value"], "setup": ["A", "A", "A"]}
    body = _arrow(columns)
    assert firm.client.put(f"{path}/chunks/1", json=chunk).status_code == 200
    answer = firm.client.put(f"{path}/chunks/2", content=body, headers={"content-type": ARROW})
    assert answer.status_code == 200, answer.text
    assert answer.json()["rows"] == 3
    firm.client.post(f"{path}/close", json={"chunks": 2})
    estimate = firm.post(f"/v1/jobs/{job}/estimates", {}).json()["id"]
    with service.database.for_organisation(firm.organisation) as uow:
        stored = uow.runs.input(run_id=estimate)
    assert stored is not None
    one, other = decode(Job, Encoded(json=stored.json, arrays=stored.arrays)).surveys[0].readings
    for name in ("x_m", "y_m", "value_m", "setup", "sd_m", "position_sd_m"):
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name))


def test_columns_that_cannot_be_are_refused(firm: Firm) -> None:
    _, path = _survey(firm)
    headers = {"content-type": ARROW}
    good = _arrow({"x": [1.0], "y": [1.0], "rod": [46.0]})
    bodies = {
        "malformed-columns": [b"", b"no arrow", good[:40], good[:-60], _arrow({"x": [1.0], "y": [1.0]})],
        "invalid-document": [_arrow({"x": [1.0], "y": [1.0], "rod": [float("nan")]})],
    }
    for code, wrong in bodies.items():
        for body in wrong:
            answer = firm.client.put(f"{path}/chunks/1", content=body, headers=headers)
            assert code_of(answer) == code, answer.text
    uneven = firm.client.put(
        f"{path}/chunks/1", json={"kind": "rod", "x": [1, 2], "y": [1, 2], "value": [46]}
    )
    assert pointers_of(uneven) == ["/value/1"]
    unknown = firm.client.put(f"{path}/chunks/1", json={**_chunk(1), "setup": ["A", "B", "A"]})
    assert pointers_of(unknown) == ["/setup/1"]
    empty = firm.client.put(f"{path}/chunks/1", json={"kind": "rod", "x": [], "y": [], "value": []})
    assert code_of(empty) == "invalid-document"
    assert firm.client.get(path).json()["chunks"] == []


def test_rooms_and_surveys_keep_the_units_they_were_made_with(service: Service, firm: Firm) -> None:
    job, path = _survey(firm)
    record = firm.client.get(f"/v1/jobs/{job}")
    headers = {"if-match": record.headers["etag"]}
    changed = firm.client.patch(f"/v1/jobs/{job}", json={"units": {"length": "m"}}, headers=headers)
    assert changed.status_code == 200
    firm.client.put(f"{path}/chunks/1", json=_chunk(1))
    firm.client.post(f"{path}/close", json={"chunks": 1})
    estimate = firm.post(f"/v1/jobs/{job}/estimates", {}).json()["id"]
    with service.database.for_organisation(firm.organisation) as uow:
        stored = uow.runs.input(run_id=estimate)
    assert stored is not None
    posted = decode(Job, Encoded(json=stored.json, arrays=stored.arrays))
    assert float(posted.surveys[0].readings[0].x_m[1]) == 2 * 0.3048
    assert posted.rooms[0].outline[2][1] == pytest.approx(11 * 0.3048)


def test_an_estimate_of_a_record_that_is_not_complete_says_what_is_missing(firm: Firm) -> None:
    job = firm.post("/v1/jobs", job_record()).json()["id"]
    assert code_of(firm.post(f"/v1/jobs/{job}/estimates", {})) == "job-incomplete"
    firm.post(f"/v1/jobs/{job}/rooms", room_record())
    assert code_of(firm.post(f"/v1/jobs/{job}/estimates", {})) == "job-incomplete"
    survey = firm.post(f"/v1/jobs/{job}/surveys", survey_record()).json()["id"]
    still_open = firm.post(f"/v1/jobs/{job}/estimates", {})
    assert survey in still_open.json()["detail"]
    firm.client.post(f"/v1/surveys/{survey}/close", json={"chunks": 0})
    foreign = firm.post(f"/v1/jobs/{job}/estimates", {"surveys": ["01890a5d-ac96-774b-bcce-b302099a8057"]})
    assert pointers_of(foreign) == ["/surveys/0"], foreign.text
    assert firm.post(f"/v1/jobs/{job}/estimates", {}).status_code == 202


def test_a_chunk_without_rows_is_refused_in_words_about_the_chunk(firm: Firm) -> None:
    _, path = _survey(firm)
    empty = firm.client.put(
        f"{path}/chunks/1", json={"kind": "rod", "setup": "A", "x": [], "y": [], "value": []}
    )
    assert pointers_of(empty) == ["/x"], empty.text
    assert "chunk" in empty.json()["errors"][0]["detail"]


def _arrow(columns: dict[str, Any]) -> bytes:
    kinds = {
        name: nanoarrow.string() if isinstance(values[0], str) else nanoarrow.float64()
        for name, values in columns.items()
    }
    arrays = [nanoarrow.c_array(values, kinds[name]) for name, values in columns.items()]
    batch = nanoarrow.c_array_from_buffers(
        nanoarrow.struct(kinds), length=len(columns["x"]), buffers=[None], children=arrays
    )
    out = BytesIO()
    with StreamWriter.from_writable(out) as writer:
        writer.write_array(batch)
    return out.getvalue()
