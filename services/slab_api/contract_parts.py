"""Parts that schemas of answers are made of."""

from typing import Any

from slab_api.results.describe import REFERENCE

Schema = dict[str, Any]

ID: Schema = {"type": "string", "format": "uuid"}
MOMENT: Schema = {"type": "string", "format": "date-time"}
TEXT: Schema = {"type": "string"}
NUMBER: Schema = {"type": "number"}
COUNT: Schema = {"type": "integer", "minimum": 0}
LINK: Schema = {"type": "string", "description": "A path on this service."}


def record(description: str, properties: dict[str, Schema]) -> Schema:
    """An object with all of these properties."""
    return {
        "type": "object",
        "description": description,
        "properties": properties,
        "required": list(properties),
    }


def maybe(schema: Schema) -> Schema:
    """The schema, or null."""
    return {"anyOf": [schema, {"type": "null"}]}


def ref(name: str) -> Schema:
    """A reference to a named schema."""
    return {"$ref": f"{REFERENCE}{name}"}


def many(items: Schema) -> Schema:
    """An array."""
    return {"type": "array", "items": items}
