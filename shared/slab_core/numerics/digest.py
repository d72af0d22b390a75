"""Digests of recipes: what went in, never what came out.

Numerical libraries differ in the last bits between versions, so output bytes never enter a key.
Lengths enter as integer nanometres (1/64 in is 396,875 nm exactly), decimals and dates as text.
"""

import dataclasses
import hashlib
from collections.abc import Iterator
from datetime import date, time
from decimal import Decimal

import numpy as np

NANOMETRES_PER_METRE = 1e9
_GEOMETRY = frozenset({"outline", "holes", "start", "end", "shell", "gaps"})


def recipe(*, stage: str, version: int, inputs: tuple[object, ...], upstream: tuple[bytes, ...]) -> bytes:
    """SHA-256 (32 bytes) over the stage's name and version, its canonical inputs and upstream recipes."""
    state = hashlib.sha256(f"{stage}\x00{version}\x00".encode())
    for digest in upstream:
        state.update(digest)
    for part in canonical(inputs):
        state.update(part)
    return state.digest()


def canonical(value: object, *, length: bool = False) -> Iterator[bytes]:
    """A value as bytes that are the same on every machine. `length`: floats are metres."""
    if dataclasses.is_dataclass(value):
        yield f"({type(value).__name__}".encode()
        for field in dataclasses.fields(value):
            is_length = field.name.endswith("_m") or field.name in _GEOMETRY
            yield f"|{field.name}=".encode()
            yield from canonical(getattr(value, field.name), length=is_length)
        yield b")"
    elif isinstance(value, dict):
        yield from canonical(tuple(sorted(value.items())), length=length)
    elif isinstance(value, tuple | list):
        yield b"["
        for item in value:
            yield from canonical(item, length=length)
            yield b","
        yield b"]"
    else:
        yield _leaf(value, length=length)


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
