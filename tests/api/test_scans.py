"""Uploading a file of scanned points: streamed, checked, kept once, and told apart by its content."""

import base64
import hashlib
import socket
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from uuid import uuid4

import httpx
import psutil
import pytest

from tests.support.api import Firm, Service, running_api
from tests.support.databases import FreshDatabase
from tests.support.problems import code_of, pointers_of
from tests.support.records import SCAN_FILE, job_record, survey_record

OCTETS = {"content-type": "application/octet-stream"}


@pytest.fixture
def survey(firm: Firm) -> str:
    return _survey(firm)


def _survey(firm: Firm) -> str:
    job = firm.post("/v1/jobs", job_record()).json()["id"]
    answer = firm.post(f"/v1/jobs/{job}/surveys", survey_record(readings=[]))
    path: str = answer.headers["location"]
    return path


def _put(firm: Firm, path: str, content: Any = SCAN_FILE, **headers: str) -> httpx.Response:
    return firm.client.put(path, content=content, headers={**OCTETS, **headers})


def _digest(content: bytes) -> str:
    return f"sha-256=:{base64.b64encode(hashlib.sha256(content).digest()).decode()}:"


def _files(service: Service) -> list[Path]:
    folder: Path = service.app.state.slab.settings.storage_dir
    return [path for path in folder.rglob("*") if path.is_file()]


def test_a_file_is_kept_as_it_was_sent_and_known_by_its_digest(
    service: Service, firm: Firm, survey: str
) -> None:
    scan = str(uuid4())
    answer = _put(firm, f"{survey}/scans/{scan}", **{"content-digest": _digest(SCAN_FILE)})
    assert answer.status_code == 200, answer.text
    kept = answer.json()
    assert (kept["id"], kept["kind"], kept["size_bytes"]) == (scan, "text", len(SCAN_FILE))
    assert kept["content_digest"] == _digest(SCAN_FILE)
    assert firm.client.get(survey).json()["scans"] == [kept]
    mine = [path for path in _files(service) if scan in str(path)]
    assert [path.read_bytes() for path in mine] == [SCAN_FILE]


def test_the_same_file_gets_the_same_answer_and_another_is_refused(
    service: Service, firm: Firm, survey: str
) -> None:
    path = f"{survey}/scans/{uuid4()}"
    first = _put(firm, path)
    said = firm.client.patch(path, json={"file_unit": "mm"}, headers={"if-match": '"v1"'})
    assert said.status_code == 200, said.text
    assert _put(firm, path).content == first.content
    assert code_of(_put(firm, path, b"3 3 3\n")) == "scan-differs"
    assert _put(firm, path).content == first.content
    assert len([file for file in _files(service) if path.rpartition("/")[2] in str(file)]) == 1


def test_uploads_of_one_scan_at_once_keep_one_file(service: Service, firm: Firm, survey: str) -> None:
    path = f"{survey}/scans/{uuid4()}"

    def put(number: int) -> httpx.Response:
        with service.client(firm.key) as client:
            return client.put(path, content=b"1 1 %d\n" % (number % 2), headers=OCTETS)

    with ThreadPoolExecutor(16) as pool:
        answers = list(pool.map(put, range(16)))
    assert {answer.status_code for answer in answers} == {200, 409}
    (same,) = {answer.content for answer in answers if answer.status_code == 200}
    (file,) = [file for file in _files(service) if path.rpartition("/")[2] in str(file)]
    assert hashlib.sha256(file.read_bytes()).digest() == base64.b64decode(
        httpx.Response(200, content=same).json()["content_digest"].split(":")[1]
    )


@pytest.mark.parametrize(
    "content",
    [b"", b"PK\3\4" + bytes(5000), b"%PDF-1.7\n", b"<html></html>", b"\x89PNG\r\n\x1a\n", b"\xff\xfe1 2 3"],
)
def test_a_file_of_no_known_kind_is_refused_at_once_with_the_kinds_that_would_be_right(
    service: Service, firm: Firm, survey: str, content: bytes
) -> None:
    path = f"{survey}/scans/{uuid4()}"
    answer = _put(firm, path, content)
    assert code_of(answer) == "unsupported-media-type"
    assert "E57" in answer.json()["detail"]
    assert code_of(firm.client.get(path)) == "not-found"
    assert not [file for file in _files(service) if path.rpartition("/")[2] in str(file)]


def test_an_unknown_kind_is_refused_before_the_rest_has_come(firm: Firm, survey: str) -> None:
    """Of a gigabyte that is promised a few kilobytes are sent, and the answer is there."""
    head = _raw_head(firm, f"{survey}/scans/{uuid4()}", length=1 << 30)
    with _connection(firm) as connection:
        connection.sendall(head + b"PK\3\4" + bytes(5000))
        assert connection.recv(64).startswith(b"HTTP/1.1 415")


def test_a_digest_that_does_not_fit_leaves_nothing(service: Service, firm: Firm, survey: str) -> None:
    path = f"{survey}/scans/{uuid4()}"
    answer = _put(firm, path, SCAN_FILE[:-1], **{"content-digest": _digest(SCAN_FILE)})
    assert code_of(answer) == "digest-mismatch"
    assert code_of(firm.client.get(path)) == "not-found"
    assert not [file for file in _files(service) if path.rpartition("/")[2] in str(file)]


def test_a_cut_connection_leaves_nothing_and_the_file_can_be_sent_again(
    service: Service, firm: Firm, survey: str
) -> None:
    path = f"{survey}/scans/{uuid4()}"
    content = SCAN_FILE * 200_000
    with _connection(firm) as connection:
        connection.sendall(_raw_head(firm, path, length=len(content)) + content[:3_000_000])
    assert code_of(firm.client.get(path)) == "not-found"
    assert _put(firm, path, content).status_code == 200
    assert not [file for file in _files(service) if file.parent.name == ".unfinished"]


def test_a_large_file_goes_through_little_memory(service: Service, firm: Firm, survey: str) -> None:
    """256 MiB, while the process that takes them grows by less than an eighth of that."""
    block = SCAN_FILE * 50_000
    count = (256 << 20) // len(block)
    process, grown = psutil.Process(), []
    before = process.memory_info().rss

    def pieces() -> Iterator[bytes]:
        for _ in range(count):
            yield block
            grown.append(process.memory_info().rss - before)

    answer = _put(firm, f"{survey}/scans/{uuid4()}", pieces())
    assert answer.json()["size_bytes"] == count * len(block)
    assert max(grown) < 32 << 20


@pytest.mark.parametrize("announced", [True, False])
def test_a_file_beyond_the_limit_is_refused_and_nothing_is_left(
    fresh_database: FreshDatabase, tmp_path: Path, announced: bool
) -> None:
    with running_api(fresh_database, storage_dir=str(tmp_path), max_scan_bytes="2000000") as service:
        firm = service.firm()
        path = f"{_survey(firm)}/scans/{uuid4()}"

        def pieces() -> Iterator[bytes]:
            for _ in range(250):
                yield SCAN_FILE * 500

        large = SCAN_FILE * 125_000
        answer = _put(firm, path, large if announced else pieces())
        assert code_of(answer) == "too-large"
        assert [file for file in tmp_path.rglob("*") if file.is_file()] == []
        assert _put(firm, path, large[: 1_999_980 // 20 * 20]).status_code == 200


def test_a_closed_survey_takes_no_new_scan_but_still_answers_for_an_old_one(firm: Firm, survey: str) -> None:
    path = f"{survey}/scans/{uuid4()}"
    first = _put(firm, path)
    short = firm.client.post(f"{survey}/close", json={"chunks": 0})
    assert (code_of(short), pointers_of(short)) == ("chunks-missing", ["/scans"])
    assert firm.client.post(f"{survey}/close", json={"chunks": 0, "scans": 1}).status_code == 200
    assert _put(firm, path).content == first.content
    assert code_of(_put(firm, f"{survey}/scans/{uuid4()}")) == "survey-closed"


def test_one_id_is_one_scan_in_all_surveys(firm: Firm, survey: str) -> None:
    scan = uuid4()
    _put(firm, f"{survey}/scans/{scan}")
    assert code_of(_put(firm, f"{_survey(firm)}/scans/{scan}")) == "already-exists"


def test_a_form_or_an_encoding_that_is_not_the_file_itself_is_refused(firm: Firm, survey: str) -> None:
    path = f"{survey}/scans/{uuid4()}"
    assert code_of(firm.client.put(path, json={})) == "unsupported-media-type"
    assert code_of(_put(firm, path, **{"content-encoding": "gzip"})) == "unsupported-media-type"
    assert code_of(_put(firm, f"{survey}/scans/no-id")) == "invalid-parameter"


def test_what_is_said_of_a_scan_is_checked_and_can_be_taken_back(firm: Firm, survey: str) -> None:
    path = f"{survey}/scans/{uuid4()}"
    _put(firm, path)
    first = firm.client.get(path)
    assert first.headers["etag"] == '"v1"'
    assert first.json()["document"] == {}
    wrong = {
        "file_unit": "parsec",
        "bias": 0,
        "targets": [
            {"id": "T1", "scanned": [0, 0, "a lot"]},
            {"id": "T1", "scanned": [1, 0, 0], "site": ["1 m", 0, 0]},
        ],
        "place": {"scanned": [0, 0, 0], "site": [0, 0, 0]},
    }
    answer = firm.client.patch(path, json=wrong, headers={"if-match": '"v1"'})
    assert set(pointers_of(answer)) == {
        "/file_unit",
        "/bias",
        "/targets/0/scanned/2",
        "/targets/1/id",
        "/place",
    }
    said = firm.client.patch(path, json={"file_unit": "mm", "name": "Hall"}, headers={"if-match": '"v1"'})
    assert said.json()["document"] == {"file_unit": "mm", "name": "Hall"}
    assert code_of(firm.client.patch(path, json={}, headers={"if-match": '"v1"'})) == "version-stale"
    assert code_of(firm.client.patch(path, json={})) == "if-match-required"
    back = firm.client.patch(path, json={"file_unit": None}, headers={"if-match": '"v2"'})
    assert (back.json()["document"], back.headers["etag"]) == ({"name": "Hall"}, '"v3"')


def _connection(firm: Firm) -> socket.socket:
    place = urlsplit(str(firm.client.base_url))
    return socket.create_connection((place.hostname, place.port), timeout=20)


def _raw_head(firm: Firm, path: str, *, length: int) -> bytes:
    lines = [
        f"PUT {path} HTTP/1.1",
        "Host: localhost",
        f"Authorization: Bearer {firm.key}",
        "Content-Type: application/octet-stream",
        f"Content-Length: {length}",
    ]
    return ("\r\n".join(lines) + "\r\n\r\n").encode()
