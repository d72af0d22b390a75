"""Bad input is answered with every place that is wrong, and nothing of it is stored."""

import json
from typing import Any

import pytest

from tests.support.api import Firm, valid_job
from tests.support.problems import code_of, pointers_of
from tests.support.records import job_record, survey_record


def _job(change: Any) -> dict[str, Any]:
    job = json.loads(json.dumps(valid_job()))
    change(job)
    return dict(job)


def _readings(job: dict[str, Any]) -> dict[str, Any]:
    readings: dict[str, Any] = job["surveys"][0]["readings"][0]
    return readings


def _room(job: dict[str, Any]) -> dict[str, Any]:
    room: dict[str, Any] = job["rooms"][0]
    return room


def _set(where: Any, name: Any, value: Any) -> None:
    where[name] = value


def _rooms_joined_at(job: dict[str, Any], x: Any) -> None:
    _room(job)["openings"] = [{"id": "arch", "from": [x, 11], "to": [8, 11], "to_room": "porch"}]
    porch = {"id": "porch", "name": "Porch", "outline": [[0, 11.2], [14, 11.2], [14, 18], [0, 18]]}
    job["rooms"].append(porch)


def _pipes(outline: list[list[Any]]) -> dict[str, Any]:
    return {"id": "pipes", "reason": "heating-pipes", "outline": outline}


_WRONG: dict[str, tuple[Any, str]] = {
    "a self-crossing room": (
        lambda job: _set(_room(job), "outline", [[0, 0], [10, 10], [10, 0], [0, 12]]),
        "/rooms/0/outline",
    ),
    "a room of two vertices": (
        lambda job: _set(_room(job), "outline", [[0, 0], [10, 10]]),
        "/rooms/0/outline",
    ),
    "an unknown unit": (lambda job: _set(job["units"], "length", "cubits"), "/units/length"),
    "an unknown unit in a text": (
        lambda job: _set(_room(job)["outline"][1], 0, "14 ells"),
        "/rooms/0/outline/1/0",
    ),
    "a text that is no length": (
        lambda job: _set(_readings(job)["value"], 3, "about 46"),
        "/surveys/0/readings/0/value/3",
    ),
    "a door that is nowhere": (
        lambda job: _rooms_joined_at(job, "left of the stove"),
        "/rooms/0/openings/0/from/0",
    ),
    "a door out of this world": (
        lambda job: _rooms_joined_at(job, 1e308),
        "/rooms/0/openings/0/from/0",
    ),
    "a null among the readings": (
        lambda job: _set(_readings(job)["value"], 2, None),
        "/surveys/0/readings/0/value/2",
    ),
    "an empty survey": (lambda job: _set(job["surveys"][0], "readings", []), "/surveys/0"),
    "no survey": (lambda job: _set(job, "surveys", []), "/surveys"),
    "no room": (lambda job: _set(job, "rooms", []), "/rooms"),
    "unequal columns": (lambda job: _readings(job)["value"].pop(), "/surveys/0/readings/0/value/11"),
    "a setup that there is not": (
        lambda job: _set(_readings(job), "setup", "B"),
        "/surveys/0/readings/0/setup",
    ),
    "an instrument of unknown accuracy": (
        lambda job: _set(job["surveys"][0]["setups"][0], "instrument", "water hose"),
        "/surveys/0/setups/0/instrument",
    ),
    "a sight to nowhere": (
        lambda job: _set(job["surveys"][0]["sights"][0], "setup", "Z"),
        "/surveys/0/sights/0/setup",
    ),
    "a misspelt field": (lambda job: _set(job, "toleranse", {}), "/toleranse"),
    "a missing field": (lambda job: job.pop("tolerance"), "/tolerance"),
    "true where a number belongs": (lambda job: _set(_room(job), "phase", True), "/rooms/0/phase"),
    "text where a number belongs": (lambda job: _set(_room(job), "phase", "1"), "/rooms/0/phase"),
    "a rule of no length": (
        lambda job: _set(job["tolerance"]["rules"][0], "length", 0),
        "/tolerance/rules/0/length",
    ),
    "a rule shorter than the surface shows": (
        lambda job: _set(job["tolerance"]["rules"][0], "length", "10 in"),
        "/tolerance/rules/0/length",
    ),
    "a grid too wide for the edge": (
        lambda job: _set(job, "options", {"grid_step": "10 ft"}),
        "/options/grid_step",
    ),
    "a grid finer than any survey": (
        lambda job: _set(job, "options", {"grid_step": "1 mm"}),
        "/options/grid_step",
    ),
    "neither a rule nor a class": (lambda job: _set(job["tolerance"], "rules", []), "/tolerance/rules"),
    "a class that there is not": (
        lambda job: _set(job["tolerance"], "flatness_class", "as flat as can be"),
        "/tolerance/flatness_class",
    ),
    "an unknown time zone": (lambda job: _set(job, "site", {"time_zone": "Mars/Olympus"}), "/site/time_zone"),
    "a date that there is not": (
        lambda job: _set(job, "options", {"pricing_date": "2026-02-30"}),
        "/options/pricing_date",
    ),
    "a moment without offset": (
        lambda job: _set(job, "options", {"earliest_start": "2026-03-02T08:00:00"}),
        "/options/earliest_start",
    ),
    "grinding over tendons": (
        lambda job: job.update(site={"slab_has": ["tendons"]}, limits={"no_grinding": False}),
        "/limits/no_grinding",
    ),
    "a threshold upside down": (
        lambda job: _set(_room(job)["openings"][0], "threshold", {"height": ["1 in", "1/2 in"]}),
        "/rooms/0/openings/0/threshold/height",
    ),
    "an opening off the wall": (
        lambda job: _set(_room(job)["openings"][0], "from", [3, 4]),
        "/rooms/0/openings/0",
    ),
    "a way into a room that there is not": (
        lambda job: _set(_room(job)["openings"][0], "to_room", "attic"),
        "/rooms/0/openings/0/to_room",
    ),
    "a keep-out zone outside its room": (
        lambda job: _set(_room(job), "keep_outs", [_pipes([[0, 0], [40, 0], [40, 3]])]),
        "/rooms/0/keep_outs/0/outline/1",
    ),
    "a keep-out zone without a reason": (
        lambda job: _set(_room(job), "keep_outs", [{"id": "pipes", "outline": [[0, 0], [2, 0], [2, 3]]}]),
        "/rooms/0/keep_outs/0/reason",
    ),
    "an id that is no UUID": (lambda job: _set(job, "id", "42"), "/id"),
}


@pytest.mark.parametrize(("change", "where"), _WRONG.values(), ids=_WRONG.keys())
def test_a_job_that_cannot_be_is_refused_with_the_place(firm: Firm, change: Any, where: str) -> None:
    answer = firm.post("/v1/estimates", _job(change))
    assert code_of(answer) == "invalid-document", answer.text
    assert any(pointer.startswith(where) for pointer in pointers_of(answer)), answer.text
    assert firm.client.get("/v1/estimates").json()["items"] == []


def test_every_fault_of_a_job_is_named_at_once(firm: Firm) -> None:
    def change(job: dict[str, Any]) -> None:
        _set(job["units"], "height", "hands")
        _set(_room(job)["outline"][1], 0, "x")
        _set(job["tolerance"]["rules"][0], "length", -1)
        _set(job, "site", {"time_zone": "Nowhere"})

    answer = firm.post("/v1/estimates", _job(change))
    assert {"/units/height", "/rooms/0/outline/1/0", "/tolerance/rules/0/length", "/site/time_zone"} <= set(
        pointers_of(answer)
    )


_BODIES: dict[str, tuple[bytes, str, str]] = {
    "nothing": (b"", "malformed-json", "application/json"),
    "half a document": (b'{"name": "x"', "malformed-json", "application/json"),
    "not UTF-8": (b'{"name": "\xff"}', "malformed-json", "application/json"),
    "a list": (b"[]", "invalid-document", "application/json"),
    "NaN": (b'{"name": NaN}', "unsafe-json", "application/json"),
    "minus infinity": (b'{"name": [1, -Infinity]}', "unsafe-json", "application/json"),
    "a number too large": (b'{"name": 1e999}', "unsafe-json", "application/json"),
    "a NUL": (b'{"name": "a\\u0000b"}', "unsafe-json", "application/json"),
    "half a surrogate": (b'{"name": "\\ud800"}', "unsafe-json", "application/json"),
    "a name given twice": (b'{"name": "a", "name": "b"}', "unsafe-json", "application/json"),
    "deep nesting": (b'{"name":' + b"[" * 65 + b"]" * 65 + b"}", "unsafe-json", "application/json"),
    "bottomless nesting": (b"[" * 100_000, "unsafe-json", "application/json"),
    "a form": (b"name=x", "unsupported-media-type", "application/x-www-form-urlencoded"),
    "no type": (b"{}", "unsupported-media-type", ""),
    "Arrow where JSON belongs": (b"{}", "unsupported-media-type", "application/vnd.apache.arrow.stream"),
}


@pytest.mark.parametrize(("body", "code", "kind"), _BODIES.values(), ids=_BODIES.keys())
def test_a_body_that_is_not_what_it_says_is_refused(firm: Firm, body: bytes, code: str, kind: str) -> None:
    headers = {"idempotency-key": "k"} | ({"content-type": kind} if kind else {})
    answer = firm.client.post("/v1/estimates", content=body, headers=headers)
    assert code_of(answer) == code, answer.text
    assert firm.client.get("/v1/estimates").json()["items"] == []


def test_the_place_of_nan_is_named(firm: Firm) -> None:
    body = json.dumps(valid_job()).replace("46.8", "NaN").encode()
    headers = {"idempotency-key": "k", "content-type": "application/json"}
    answer = firm.client.post("/v1/estimates", content=body, headers=headers)
    assert pointers_of(answer) == ["/surveys/0/readings/0/value/5"]


def test_a_body_beyond_the_limit_is_refused_while_it_streams(firm: Firm) -> None:
    def endless() -> Any:
        for _ in range(40):
            yield b" " * 2**20

    headers = {"idempotency-key": "k", "content-type": "application/json"}
    answer = firm.client.post("/v1/estimates", content=endless(), headers=headers)
    assert code_of(answer) == "too-large"
    answer = firm.client.post("/v1/estimates", content=b" " * (17 * 2**20), headers=headers)
    assert code_of(answer) == "too-large"


def test_a_small_body_that_unpacks_to_a_large_one_is_refused(firm: Firm) -> None:
    import gzip

    headers = {"idempotency-key": "k", "content-type": "application/json", "content-encoding": "gzip"}
    bomb = gzip.compress(b" " * (64 * 2**20))
    assert code_of(firm.client.post("/v1/estimates", content=bomb, headers=headers)) == "too-large"
    good = gzip.compress(json.dumps(valid_job()).encode())
    assert firm.client.post("/v1/estimates", content=good, headers=headers).status_code == 202
    halves = gzip.compress(json.dumps(valid_job(name="first"))[:40].encode()) + gzip.compress(
        json.dumps(valid_job(name="first"))[40:].encode()
    )
    in_two = firm.client.post("/v1/estimates", content=halves, headers={**headers, "idempotency-key": "m"})
    assert in_two.status_code == 202, in_two.text
    followed = firm.client.post(
        "/v1/estimates", content=good + b"more", headers={**headers, "idempotency-key": "n"}
    )
    assert code_of(followed) == "unsupported-media-type"
    headers["content-encoding"] = "br"
    broken = firm.client.post("/v1/estimates", content=good, headers=headers)
    assert code_of(broken) == "unsupported-media-type"


@pytest.mark.parametrize(
    ("body", "where"),
    [
        ({**job_record(), "units": {"length": "rods"}}, "/units/length"),
        ({**job_record(), "covering": {"width": -5}}, "/covering/width"),
        ({**job_record(), "limits": {"greatest_fill": "much"}}, "/limits/greatest_fill"),
    ],
)
def test_a_record_that_could_never_be_estimated_is_refused(firm: Firm, body: Any, where: str) -> None:
    answer = firm.post("/v1/jobs", body)
    assert code_of(answer) == "invalid-document"
    assert pointers_of(answer) == [where]
    assert firm.client.get("/v1/jobs").json()["items"] == []


def test_a_room_or_survey_that_cannot_be_is_refused(firm: Firm) -> None:
    job = firm.post("/v1/jobs", job_record()).json()["id"]
    room = firm.post(f"/v1/jobs/{job}/rooms", {"name": "x", "outline": [[0, 0], [9, 9], [9, 0], [0, 9]]})
    assert any(pointer.startswith("/outline") for pointer in pointers_of(room)), room.text
    survey = firm.post(f"/v1/jobs/{job}/surveys", survey_record(setups=[]))
    assert "/readings/0/setup" in pointers_of(survey), survey.text
    for kind in ("rooms", "surveys"):
        assert firm.client.get(f"/v1/jobs/{job}/{kind}").json()["items"] == []
