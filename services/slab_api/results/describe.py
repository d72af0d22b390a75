"""JSON Schemas of results, made from the core's models by the rules of `slab_app.plain`."""

from dataclasses import fields, is_dataclass
from datetime import date, datetime, time
from decimal import Decimal
from types import NoneType, UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

import numpy as np

from slab_app.plain import GRID_MM, LEFT_OUT, MONEY, json_name

Schema = dict[str, Any]

REFERENCE = "#/components/schemas/"
MONEY_SCHEMA: Schema = {
    "type": "object",
    "description": "An amount of money; the amount is a decimal in text, never a float.",
    "properties": {
        "amount": {"type": "string", "pattern": r"^-?[0-9]+(\.[0-9]+)?$", "examples": ["1234.50"]},
        "currency": {"type": "string", "pattern": "^[A-Z]{3}$", "examples": ["USD"]},
    },
    "required": ["amount", "currency"],
}
_DECIMAL: Schema = {"type": "string", "pattern": r"^-?[0-9]+(\.[0-9]+)?([Ee][+-]?[0-9]+)?$"}
# A perfect plane has infinite F-numbers, and an unsolved plan no bound; JSON has no infinity.
_MAY_BE_INFINITE = frozenset({"ff", "fl", "objective", "bound"})
_GRID = (
    "Rows of nodes from y0 up, in millimetres. They say nothing of nodes off the floor: `inside` tells which "
    "lie on it, for a tolerance report that of its floor's surface."
)
_PLAIN: dict[Any, Schema] = {
    str: {"type": "string"},
    bool: {"type": "boolean"},
    int: {"type": "integer"},
    float: {"type": "number"},
    Decimal: _DECIMAL,
    date: {"type": "string", "format": "date"},
    time: {"type": "string", "format": "time"},
    datetime: {"type": "string", "format": "date-time"},
    NoneType: {"type": "null"},
}


def schema_name(model: type) -> str:
    """The name of a model's schema; it must not meet that of a posted document."""
    return f"{model.__name__}Result"


def describe(model: type, *, into: dict[str, Schema], with_currency: bool = False) -> Schema:
    """A reference to the model's schema, which is added to `into` with all that it needs."""
    name = schema_name(model)
    if name not in into:
        into[name] = {}
        into[name] = _object(model, into=into, with_currency=with_currency)
    return {"$ref": f"{REFERENCE}{name}"}


def _object(model: type, *, into: dict[str, Schema], with_currency: bool) -> Schema:
    hints = get_type_hints(model)
    with_currency = with_currency or "currency" in hints
    properties = {
        json_name(field.name): _field(field.name, hints[field.name], into=into, with_currency=with_currency)
        for field in fields(model)
        if field.name not in LEFT_OUT or hints[field.name] is int
    }
    description = " ".join((model.__doc__ or "").split())
    return {
        "type": "object",
        "title": model.__name__,
        "description": description,
        "properties": properties,
        "required": list(properties),
    }


def _field(name: str, hint: Any, *, into: dict[str, Schema], with_currency: bool) -> Schema:
    if name.endswith("_minute") and hint is int:
        return _PLAIN[datetime]
    if hint is Decimal and name in MONEY and with_currency:
        into.setdefault("Money", MONEY_SCHEMA)
        return {"$ref": f"{REFERENCE}Money"}
    if name in _MAY_BE_INFINITE and hint is float:
        return {"type": ["number", "null"], "description": "null where it is infinite."}
    if name in GRID_MM:
        rows = {"type": "array", "items": {"type": "array", "items": {"type": "number"}}}
        return {**rows, "description": _GRID}
    return _hint(hint, name=name, into=into, with_currency=with_currency)


def _hint(hint: Any, *, name: str, into: dict[str, Schema], with_currency: bool) -> Schema:
    def inner(part: Any) -> Schema:
        return _field(name, part, into=into, with_currency=with_currency)

    if hint in _PLAIN:
        return _PLAIN[hint]
    if isinstance(hint, type) and is_dataclass(hint):
        return describe(hint, into=into, with_currency=with_currency)
    origin, parts = get_origin(hint), get_args(hint)
    if origin is Literal:
        return {"type": "string", "enum": list(parts)}
    if origin in (Union, UnionType):
        return {"anyOf": [inner(part) for part in parts]}
    if origin is tuple and parts[1:] == (Ellipsis,):
        return {"type": "array", "items": inner(parts[0])}
    if origin is tuple:
        return {
            "type": "array",
            "prefixItems": [inner(part) for part in parts],
            "minItems": len(parts),
            "maxItems": len(parts),
        }
    if origin is dict:
        return {"type": "object", "additionalProperties": inner(parts[1])}
    if origin is np.ndarray:
        return {
            "type": "array",
            "description": "Rows of nodes, as the grid says.",
            "items": {"type": "array"},
        }
    raise TypeError(f"no schema is known for {hint!r} of {name}")
