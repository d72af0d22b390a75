"""What every document of a client has in common."""

from typing import Annotated, Any
from uuid import UUID

from pydantic import BaseModel, ConfigDict, Field, PlainSerializer, PlainValidator, WithJsonSchema

from slab_base.ids import parse_id


class Document(BaseModel):
    """A part of a posted document: unknown fields, NaN and values of another kind are refused."""

    model_config = ConfigDict(
        strict=True, extra="forbid", allow_inf_nan=False, frozen=True, populate_by_name=False
    )


def number_or_text(value: Any) -> float | str:
    """A length is read later, with the document's units; here it only has to be one of the two kinds."""
    if isinstance(value, str) and 0 < len(value) <= 64:
        return value
    if isinstance(value, int | float) and not isinstance(value, bool):
        return value
    raise ValueError("a length is a number, or a text such as 12' 3-5/8\" or 3.75 m")


def _column(value: Any) -> list[Any]:
    """Rows of a column are read later, each with its number; here it only has to be a list."""
    if not isinstance(value, list):
        raise ValueError("a column is a list with one value for each reading")
    return value


def _an_id(value: Any) -> UUID:
    if not isinstance(value, str):
        raise ValueError("an id is a UUID, written as text")
    return parse_id(value)


LENGTH_SCHEMA = {
    "anyOf": [{"type": "number"}, {"type": "string", "minLength": 1, "maxLength": 64}],
    "description": "A number in the document's units, or a text with its own, such as 12' 3-5/8\" or 3.75 m.",
}

Length = Annotated[
    float | str,
    PlainValidator(number_or_text),
    PlainSerializer(lambda value: value, return_type=Any),
    WithJsonSchema(LENGTH_SCHEMA),
]
"""A length as a client writes it."""

LengthColumn = Annotated[
    list[Any], PlainValidator(_column), WithJsonSchema({"type": "array", "items": LENGTH_SCHEMA})
]
"""One length for each reading."""

LengthOrColumn = Annotated[
    Any,
    PlainValidator(lambda value: value if isinstance(value, list) else number_or_text(value)),
    WithJsonSchema({"anyOf": [*LENGTH_SCHEMA["anyOf"], {"type": "array", "items": LENGTH_SCHEMA}]}),
]
"""One length for all readings, or one for each."""

Place = Annotated[tuple[Length, Length], Field(strict=False, description="A place in the plan: [x, y].")]

Name = Annotated[str, Field(min_length=1, max_length=200)]

Label = Annotated[str, Field(min_length=1, max_length=64, pattern=r"^[A-Za-z0-9][A-Za-z0-9 ._-]*$")]
"""A short name by which parts of a document refer to each other."""

ClientId = Annotated[
    UUID,
    PlainValidator(_an_id),
    PlainSerializer(str, return_type=str),
    WithJsonSchema({"type": "string", "format": "uuid"}),
]

NewId = Annotated[
    ClientId | None,
    Field(description="Made by the client if it wants to know the id before the answer arrives."),
]
