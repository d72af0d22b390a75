"""Digests of recipes: what went in, never what came out.

Numerical libraries differ in the last bits between versions, so output bytes never enter a key.
Lengths enter as integer nanometres (1/64 in is 396,875 nm exactly), decimals and dates as text.
"""

import dataclasses
import hashlib
from datetime import date, time
from decimal import Decimal
from functools import cache

import numpy as np

NANOMETRES_PER_METRE = 1e9
_GEOMETRY = frozenset({"outline", "holes", "start", "end", "shell", "gaps"})


def recipe(*, stage: str, version: int, inputs: tuple[object, ...], upstream: tuple[bytes, ...]) -> bytes:
    """SHA-256 (32 bytes) over the stage's name and version, its canonical inputs and upstream recipes."""
    state = hashlib.sha256(f"{stage}\x00{version}\x00".encode())
    for digest in upstream:
        state.update(digest)
    state.update(canonical(inputs))
    return state.digest()


def canonical(value: object) -> bytes:
    """A value as bytes that are the same on every machine."""
    parts: list[bytes] = []
    _add(parts, value, length=False)
    return b"".join(parts)


def _add(parts: list[bytes], value: object, *, length: bool) -> None:
    """Append a value's bytes. `length`: floats are metres."""
    if isinstance(value, tuple | list):
        parts.append(b"[")
        for item in value:
            _add(parts, item, length=length)
            parts.append(b",")
        parts.append(b"]")
    elif isinstance(value, dict):
        _add(parts, tuple(sorted(value.items())), length=length)
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        parts.append(f"({type(value).__name__}".encode())
        for name, said, is_length in _fields(type(value)):
            parts.append(said)
            _add(parts, getattr(value, name), length=is_length)
        parts.append(b")")
    else:
        parts.append(_leaf(value, length=length))


@cache
def _fields(kind: type) -> tuple[tuple[str, bytes, bool], ...]:
    """Name, how it is said, and whether it is a length, of every field of a dataclass."""
    return tuple(
        (field.name, f"|{field.name}=".encode(), field.name.endswith("_m") or field.name in _GEOMETRY)
        for field in dataclasses.fields(kind)
    )


def _leaf(value: object, *, length: bool) -> bytes:
    if isinstance(value, np.ndarray):
        scaled = np.rint(value * NANOMETRES_PER_METRE).astype("<i8") if length else value
        return f"{scaled.dtype.str}{scaled.shape}".encode() + np.ascontiguousarray(scaled).tobytes()
    if isinstance(value, int) and length and not isinstance(value, bool):
        value = float(value)  # 3 m is 3.0 m
    if isinstance(value, float):
        return (str(round(value * NANOMETRES_PER_METRE)) if length else f"{value:.12g}").encode()
    if value is None or isinstance(value, str | int | bool | bytes):
        return repr(value).encode()
    if isinstance(value, Decimal):
        return f"D{value.normalize()}".encode()
    if isinstance(value, date | time):  # a datetime is a date
        return value.isoformat().encode()
    raise TypeError(f"{type(value).__name__} has no canonical form")
