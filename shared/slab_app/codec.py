"""Frozen dataclasses to bytes and back: JSON for what people read, compressed columns for arrays.

Stored rows carry `SCHEMA`; a reader that meets an older number converts it here. No pickle.
"""

import math
import re
from dataclasses import dataclass
from typing import Any, TypeVar

import msgspec
import numpy as np

from slab_app.columns import Array, pack_arrays, unpack_arrays

SCHEMA = 1
"""Number of the stored form, raised when old rows need converting."""

ARRAY_KEY = "$array"
FLOAT_KEY = "$float"

# A double in MessagePack that is not finite: sign and exponent. Text may hold the same bytes by chance.
_LIKE_INFINITE = re.compile(rb"\xcb[\x7f\xff][\xf0-\xff]")

Model = TypeVar("Model")


@dataclass(frozen=True, slots=True, kw_only=True)
class Encoded:
    """A model as stored: `json` text, and `arrays` that the JSON refers to by number."""

    json: bytes
    arrays: bytes


def encode(model: object) -> Encoded:
    """A dataclass model as bytes. Arrays are taken out of the JSON and kept exactly."""
    arrays: list[Array] = []

    def take_out(value: object) -> object:
        if isinstance(value, np.ndarray):
            arrays.append(value)
            return {ARRAY_KEY: len(arrays) - 1}
        if isinstance(value, np.generic):
            return value.item()
        raise TypeError(f"{type(value).__name__} cannot be stored")

    # Sets too have one order, or equal models would not have equal recipes.
    plain = msgspec.to_builtins(model, enc_hook=take_out, order="deterministic")
    if _may_hold_infinite(plain):
        plain = _mark_infinite(plain)
    text = msgspec.json.encode(plain, order="deterministic")
    return Encoded(json=text, arrays=pack_arrays(arrays))


def decode(model: type[Model], encoded: Encoded) -> Model:
    """The model that `encode` was given, equal bit for bit.

    Raises
    ------
    msgspec.ValidationError
        when the JSON is not of the model's shape.
    """
    arrays = unpack_arrays(encoded.arrays)

    def put_back(_: type, value: object) -> object:
        if isinstance(value, dict) and ARRAY_KEY in value:
            return arrays[value[ARRAY_KEY]]
        raise TypeError("an array was expected")

    plain = msgspec.json.decode(encoded.json)
    if FLOAT_KEY.encode() in encoded.json:
        plain = _unmark_infinite(plain)
    return msgspec.convert(plain, model, dec_hook=put_back)


def _may_hold_infinite(plain: object) -> bool:
    """Almost nothing does; to look through packed bytes is far quicker than to walk through the values."""
    try:
        packed = msgspec.msgpack.encode(plain)
    except OverflowError:  # a whole number beyond 64 bits, which JSON has and MessagePack has not
        return True
    return _LIKE_INFINITE.search(packed) is not None


def _mark_infinite(value: Any) -> Any:
    """JSON knows no infinity, and an F-number of a perfect plane is one."""
    if isinstance(value, float):
        return value if math.isfinite(value) else {FLOAT_KEY: str(value)}
    if isinstance(value, dict):
        return {key: _mark_infinite(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_mark_infinite(item) for item in value]
    return value


def _unmark_infinite(value: Any) -> Any:
    if isinstance(value, dict):
        if FLOAT_KEY in value:
            return float(value[FLOAT_KEY])
        return {key: _unmark_infinite(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_unmark_infinite(item) for item in value]
    return value
