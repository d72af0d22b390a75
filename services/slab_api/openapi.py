"""The contract, OpenAPI 3.1, made from the routes; `write_contract.py` writes it to a file."""

from typing import Any

import msgspec
from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from pydantic.json_schema import models_json_schema

from slab_api.contract import BODIES, REFERENCE
from slab_api.contract_schemas import answer_schemas

VERSION = "1.0.0"
WITHOUT_KEY = frozenset({"offers", "crew-feeds"})
"""Tags of routes to which a link is all the leave that is needed."""

_REQUIRED_HEADERS = ("Idempotency-Key", "If-Match")
_TAGS = {
    "estimates": "Post a whole job, watch its estimate, cancel it.",
    "results": "What each stage of an estimate found.",
    "jobs": "Long-lived records of jobs.",
    "rooms": "The rooms of a job's record.",
    "surveys": "What was measured, uploaded in chunks over bad connections.",
    "quotes": "What the customer is promised, sent, and changed by order.",
    "offers": "What a customer reads and answers under a link.",
    "closeouts": "What jobs really took, and what is learned from it.",
    "stock": "The firm's store of materials: what jobs left, what is free, and every move.",
    "firm-schedules": "All jobs of the firm planned together over crews, machines, sites and months.",
    "crew-calendars": "Links under which crews subscribe to the schedule in force.",
    "crew-feeds": "What a crew's calendar reads under its link.",
    "firm": "The firm's own prices, products, rates and working hours, as immutable versions.",
}
_DESCRIPTION = """Estimates the flattening of concrete subfloors and the glue-down of wood floors onto them.

Lengths in documents are numbers in the document's units, or text with its own (`12' 3-5/8"`, `3.75 m`);
in results they are metres or millimetres, as the names say. Money is `{amount, currency}`, never a float.

Every error is `application/problem+json` (RFC 9457) and names every place that is wrong.

POSTs that create need an `Idempotency-Key`; a repeated request gets the first answer byte for byte. Lists are
walked with the cursor in `next`. Ids may be made by the client. PATCH needs `If-Match`.
"""


def openapi_document(app: FastAPI) -> dict[str, Any]:
    """The OpenAPI document of the app's routes."""
    document = get_openapi(
        title="Slabwright",
        version=VERSION,
        openapi_version="3.1.0",
        description=_DESCRIPTION,
        routes=app.routes,
        tags=[{"name": name, "description": text} for name, text in _TAGS.items()],
        license_info={"name": "Apache-2.0", "identifier": "Apache-2.0"},
    )
    document["components"] = {
        "schemas": dict(sorted((_body_schemas() | answer_schemas()).items())),
        "securitySchemes": {
            "key": {
                "type": "http",
                "scheme": "bearer",
                "bearerFormat": "slab_<organisation and key>_<secret>_<checksum>",
                "description": "An API key of an organisation.",
            }
        },
    }
    for path in document["paths"].values():
        for operation in path.values():
            _finish(operation)
    return document


def _body_schemas() -> dict[str, Any]:
    """Schemas of all posted documents."""
    models = [(BODIES[name], "validation") for name in sorted(BODIES)]
    _, schema = models_json_schema(models, ref_template=f"{REFERENCE}{{model}}")  # type: ignore[arg-type]  # the mode is a literal
    schemas: dict[str, Any] = schema["$defs"]
    return schemas


def _finish(operation: dict[str, Any]) -> None:
    """What the framework says otherwise than the routes do."""
    operation["security"] = [] if WITHOUT_KEY & set(operation["tags"]) else [{"key": []}]
    operation["tags"] = operation["tags"][-1:]  # a route's own stands behind its router's
    invalid = operation["responses"].get("422", {}).get("content", {}).get("application/json", {})
    if "HTTPValidationError" in str(invalid):
        del operation["responses"]["422"]
    for parameter in operation.get("parameters", []):
        if parameter["name"] in _REQUIRED_HEADERS:
            parameter["required"] = True
            parameter["schema"] = {"type": "string"}
        if parameter["name"] == "Idempotency-Key":
            parameter["schema"] |= {"minLength": 1, "maxLength": 255}
    for response in operation["responses"].values():
        content = response.get("content", {})
        if content.get("application/json") == {"schema": {}}:
            del content["application/json"]


def rendered(app: FastAPI) -> bytes:
    """The document as it is committed: indented, in the order of the routes."""
    return msgspec.json.format(msgspec.json.encode(openapi_document(app)), indent=1) + b"\n"
