"""From the bytes of a body to a document of ours, or to the faults that it has."""

from collections.abc import Mapping
from typing import Any, TypeVar

import msgspec
from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from slab_api.bodies.pointers import pointer
from slab_api.bodies.strict_json import read_json
from slab_api.problems import invalid
from slab_app.errors import Fault

Document = TypeVar("Document", bound=BaseModel)

_WORDS = {
    "missing": "this field is required",
    "extra_forbidden": "this field is not known here; leave it out or correct its name",
}


def read_document(shape: type[Document], raw: bytes, *, deepest: int) -> Document:
    """The document in a JSON body. Raises ApiProblem that names every field that is wrong."""
    read_json(raw, deepest=deepest)
    try:
        return shape.model_validate_json(raw)
    except ValidationError as problem:
        raise invalid(tuple(_faults(problem))) from None


def stored_document(shape: type[Document], document: Mapping[str, Any]) -> Document:
    """A document of ours that was kept. Raises ApiProblem when it is not of the shape any more."""
    try:
        return shape.model_validate_json(msgspec.json.encode(document))
    except ValidationError as problem:
        raise invalid(tuple(_faults(problem))) from None


def _faults(problem: ValidationError) -> list[Fault]:
    found = problem.errors(include_url=False, include_context=False, include_input=False)
    return [Fault(detail=_detail(error), pointer=pointer(_place(error))) for error in found]


def _place(error: ErrorDetails) -> tuple[str | int, ...]:
    """The place without the names that pydantic gives to the ways of reading a field."""
    return tuple(part for part in error["loc"] if not (isinstance(part, str) and "[" in part))


def _detail(error: ErrorDetails) -> str:
    return _WORDS.get(error["type"], error["msg"].removeprefix("Value error, "))
