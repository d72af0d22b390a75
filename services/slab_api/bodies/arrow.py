"""Readings as an Arrow IPC stream: the quickest way for many rows, without a schema to agree on beyond names.

Columns: x, y and one of elevation or rod (numbers, in the survey's units), and if wanted setup (text), sd and
position_sd (numbers). Any number of record batches.
"""

from collections.abc import Iterator
from typing import Any

import nanoarrow
import numpy as np
from nanoarrow.ipc import InputStream

from slab_api.problems import ApiProblem
from slab_core.numerics.grid import Floats

NUMBERS = ("x", "y", "elevation", "rod", "sd", "position_sd")
_KINDS = {
    "double": np.float64,
    "float": np.float32,
    "int8": np.int8,
    "int16": np.int16,
    "int32": np.int32,
    "int64": np.int64,
    "uint8": np.uint8,
    "uint16": np.uint16,
    "uint32": np.uint32,
}


def read_columns(body: bytes) -> tuple[dict[str, Floats], list[str] | None]:
    """Columns of numbers by name, and the column of setups if there is one.

    Raises ApiProblem for what is not an Arrow stream, or has other columns, other types or nulls.
    """
    try:
        with InputStream.from_readable(body) as source, nanoarrow.c_array_stream(source) as stream:
            names = _checked_names(stream.get_schema())
            batches = [list(_columns(batch, names)) for batch in stream]
    except ApiProblem:
        raise
    except Exception as problem:  # the reader is C code behind several kinds of error; all mean the same here
        raise ApiProblem("malformed-columns", f"not an Arrow IPC stream: {_first_line(problem)}") from None
    numbers = {
        name: _joined([batch[place] for batch in batches])
        for place, name in enumerate(names)
        if name != "setup"
    }
    place = names.index("setup") if "setup" in names else None
    setups = None if place is None else [text for batch in batches for text in batch[place]]
    return numbers, setups


def _checked_names(schema: Any) -> list[str]:
    names = [child.name for child in schema.children]
    unknown = sorted(set(names) - {*NUMBERS, "setup"})
    if unknown:
        raise ApiProblem("malformed-columns", f"unknown columns {', '.join(unknown)}; known: {_known()}")
    if len(set(names)) != len(names):
        raise ApiProblem("malformed-columns", "a column is given twice")
    missing = [name for name in ("x", "y") if name not in names]
    if missing or ("elevation" in names) == ("rod" in names):
        raise ApiProblem("malformed-columns", "give x, y and one of elevation or rod")
    return names


def _columns(batch: Any, names: list[str]) -> Iterator[Any]:
    for name, child in zip(names, batch.children, strict=True):
        view = nanoarrow.c_array(child)
        if view.null_count:
            raise ApiProblem("malformed-columns", f"column {name} has nulls; leave out what was not measured")
        array = nanoarrow.Array(view)
        yield array.to_pylist() if name == "setup" else _numbers(array, name)


def _numbers(array: Any, name: str) -> Floats:
    kind = _KINDS.get(array.schema.type.name.lower())
    if kind is None:
        raise ApiProblem(
            "malformed-columns", f"column {name} is of {array.schema.type.name.lower()}; give double numbers"
        )
    buffer = np.frombuffer(array.buffers[1], dtype=kind)
    # A sum, so that 0 has no sign, which a rounded -0.3 mm has.
    return np.asarray(np.add(buffer[array.offset : array.offset + len(array)], 0.0, dtype=np.float64))


def _joined(parts: list[Floats]) -> Floats:
    if len(parts) == 1:
        return parts[0]
    return np.concatenate(parts) if parts else np.empty(0)


def _known() -> str:
    return ", ".join((*NUMBERS, "setup"))


def _first_line(problem: Exception) -> str:
    return (str(problem).splitlines() or [type(problem).__name__])[0][:200]
