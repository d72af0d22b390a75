"""The committed contract: equal to what the routes say, complete, and with examples that are true."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from slab_api.app import bare_app
from slab_api.openapi import WITHOUT_KEY, rendered
from tests.support.api import Service
from tests.support.examples import FOLDER, play, shape
from tests.support.own_worker import OwnWorker

CONTRACT = Path(__file__).parents[2] / "openapi" / "openapi.json"
_DOCUMENT = json.loads(CONTRACT.read_text())
_OPERATIONS = [
    pytest.param(operation, id=operation["operationId"])
    for verbs in _DOCUMENT["paths"].values()
    for operation in verbs.values()
]


def test_the_committed_contract_is_what_the_routes_say() -> None:
    made = rendered(bare_app(base_url="http://127.0.0.1:8000"))
    assert CONTRACT.read_bytes() == made, "run python -m slab_api.write_contract"


def test_it_is_openapi_3_1_and_every_reference_leads_somewhere() -> None:
    assert _DOCUMENT["openapi"] == "3.1.0"
    known = {f"#/components/schemas/{name}" for name in _DOCUMENT["components"]["schemas"]}
    assert set(_references(_DOCUMENT)) <= known
    for name, schema in _DOCUMENT["components"]["schemas"].items():
        jsonschema.Draft202012Validator.check_schema(schema)
        assert schema, name


def test_operation_ids_are_unique_and_hand_set() -> None:
    ids = [operation.values[0]["operationId"] for operation in _OPERATIONS]
    assert len(ids) == len(set(ids)) == 85
    assert all("_" not in id_ for id_ in ids)


@pytest.mark.parametrize("operation", _OPERATIONS)
def test_every_operation_is_described_with_its_problems_and_examples(operation: dict[str, Any]) -> None:
    assert operation["summary"]
    assert operation["description"]
    assert operation["tags"][0] in {tag["name"] for tag in _DOCUMENT["tags"]}
    needs_key = not WITHOUT_KEY & set(operation["tags"])  # a customer or a crew has a link and no key
    assert ({"401", "403"} <= set(operation["responses"])) == needs_key == bool(operation["security"])
    for status, response in operation["responses"].items():
        if status >= "400":
            assert list(response["content"]) == ["application/problem+json"]
    body = operation.get("requestBody")
    if body:
        assert {"400", "413", "415", "422"} <= set(operation["responses"])
        content = body["content"]
        if "application/octet-stream" not in content:
            _check(content["application/json"]["schema"], content["application/json"]["example"])


def test_the_docs_page_loads_nothing_from_elsewhere(service: Service) -> None:
    with service.client() as client:
        page = client.get("/docs")
        served = client.get("/openapi.json")
    assert page.headers["content-security-policy"].startswith("default-src 'none'")
    for word in ("http://", "https://", "//cdn", "@import", "url("):
        assert word not in page.text
    assert "<script>" in page.text
    assert served.json()["paths"].keys() == _DOCUMENT["paths"].keys()


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.json")), ids=lambda path: str(path.stem))
def test_the_examples_are_true(service: Service, worker: OwnWorker, path: Path) -> None:
    firm = service.firm()
    for exchange in json.loads(path.read_text())["exchanges"]:
        played = play(exchange, firm=firm, worker=worker)
        if exchange["exact"]:
            assert played == exchange["response"], "run python -m tests.support.examples"
        else:
            assert shape(played) == shape(exchange["response"]), "run python -m tests.support.examples"


def _check(schema: dict[str, Any], value: Any) -> None:
    whole = {**schema, "components": _DOCUMENT["components"]}
    jsonschema.Draft202012Validator(whole).validate(value)


def _references(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        if isinstance(value.get("$ref"), str):
            yield value["$ref"]
        for item in value.values():
            yield from _references(item)
    elif isinstance(value, list):
        for item in value:
            yield from _references(item)
