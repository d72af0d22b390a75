"""Parts of the OpenAPI document that routes declare: bodies, answers and problems."""

from typing import Any, Final

from pydantic import BaseModel

from slab_api.bodies.read import ARROW, JSON, OCTETS
from slab_api.bodies.table import CSV
from slab_api.problems import KINDS
from slab_core.job import MODELS

Responses = dict[int | str, dict[str, Any]]

REFERENCE: Final = "#/components/schemas/"
BODIES: dict[str, type[BaseModel]] = {}
"""Every posted document by its name, gathered while the routes are declared."""

_TRACE = {"trace-id": {"description": "Finds the request in the logs.", "schema": {"type": "string"}}}


def body(shape: type[BaseModel], *, kinds: dict[str, Any] | None = None) -> dict[str, Any]:
    """The request body of a route, with the document's own example."""
    BODIES[shape.__name__] = shape
    examples = shape.model_json_schema().get("examples", [])
    content: dict[str, Any] = {JSON: {"schema": {"$ref": f"{REFERENCE}{shape.__name__}"}}}
    if examples:
        content[JSON]["example"] = examples[0]
    return {"requestBody": {"required": True, "content": content | (kinds or {})}}


def file_body(description: str) -> dict[str, Any]:
    """The request body of a route that takes a file."""
    schema = {"type": "string", "format": "binary", "description": description}
    return {"requestBody": {"required": True, "content": {OCTETS: {"schema": schema}}}}


def answer(schema: str, description: str, *, headers: dict[str, str] | None = None) -> dict[str, Any]:
    """A JSON answer of a named schema."""
    return {
        "description": description,
        "content": {JSON: {"schema": {"$ref": f"{REFERENCE}{schema}"}}},
        "headers": _headers(headers or {}),
    }


def faults(*statuses: int) -> Responses:
    """The problems that a route may answer with."""
    return {
        status: {
            "description": "; ".join(kind.title for kind in KINDS.values() if kind.status == status),
            "content": {"application/problem+json": {"schema": {"$ref": f"{REFERENCE}Problem"}}},
            "headers": _TRACE,
        }
        for status in (*statuses, 500)
    }


def created(schema: str) -> Responses:
    """The answer to a POST that made a record."""
    headers = {"Location": "Address of the record.", "ETag": "Version of the record, where it has one."}
    return {201: answer(schema, "It was made, now or by an earlier request with this key.", headers=headers)}


def found(schema: str, description: str = "The record.", *, tag: bool = True) -> Responses:
    """The answer to a GET."""
    headers = {"ETag": "Names this version, for If-Match and If-None-Match."} if tag else {}
    responses: Responses = {200: answer(schema, description, headers=headers)}
    if tag:
        responses[304] = {"description": "The client has this version already (If-None-Match)."}
    return responses


def listed(item: str) -> Responses:
    """The answer to a list."""
    return {200: answer(f"{item}List", "One page, and the cursor of the next if there is one.")}


def result_answer(stage: str, *, gridded: bool) -> Responses:
    """A stage's result, as JSON and where it has a grid as columns too."""
    responses = found(f"{MODELS[stage].__name__}Answer", "The stage's result.")
    if gridded:
        responses[200]["content"][ARROW] = {
            "schema": {
                "type": "string",
                "format": "binary",
                "description": "An Arrow IPC stream with one row for each node of the whole grid.",
            }
        }
    return responses


def table_answer(heading: tuple[str, ...]) -> Responses:
    """A table for spreadsheets, with its heading."""
    responses = found("Estimate", "The table, one row for each thing.")
    description = f"RFC 4180, under the heading {', '.join(heading)}."
    responses[200]["content"] = {CSV: {"schema": {"type": "string", "description": description}}}
    return responses


def _headers(named: dict[str, str]) -> dict[str, Any]:
    return _TRACE | {
        name: {"description": text, "schema": {"type": "string"}} for name, text in named.items()
    }


ESTIMATE: Final[Responses] = found("Estimate", "The estimate as it is now.")
ESTIMATE_LIST: Final[Responses] = listed("EstimateItem")
CREATED_ESTIMATE: Final[Responses] = {
    200: answer(
        "Estimate",
        "The finished estimate: the client was willing to wait (Prefer), and it was ready in time.",
        headers={"Preference-Applied": "The wait that was granted.", "Content-Location": "Its address."},
    ),
    202: answer(
        "Estimate",
        "The estimate is queued.",
        headers={"Location": "Address of the estimate.", "Retry-After": "Seconds after which to look."},
    ),
}
