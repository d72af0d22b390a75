"""Arrays as one block of bytes: the length of a head, the head as JSON (of each array dtype, shape, bytes and
maybe its step), then the compressed columns.

What instruments show and clients write are whole steps, of a millimetre, say, or of a hundredth of a foot. A
long column of such numbers is kept as its steps, all first bytes before all second ones: half the bytes, in a
third of the time. Only what comes back equal bit for bit is kept so.
"""

import json
import struct
import zlib
from dataclasses import dataclass
from itertools import product
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from slab_core.units.lengths import METRES_PER

Array = NDArray[Any]

_COUNT = np.dtype("<u4")
_MOST_STEPS = 2.0**32 - 1
_FEWEST_ROWS = 4096
"""Of shorter columns too little is to be gained."""
_TRIED_ROWS = 256
"""About as many, from all over the column, are looked at for its step."""


@dataclass(frozen=True, slots=True)
class Step:
    """Numbers that are whole multiples of `unit` / `parts`, worked out as those of a client are."""

    unit: float
    parts: float

    def values(self, steps: Array) -> Array:
        """The numbers of whole steps, float64."""
        return np.asarray(steps / self.parts * self.unit)

    def steps(self, values: Array) -> Array | None:
        """Whole steps as float64, or None if they would not give back every bit of the values."""
        with np.errstate(invalid="ignore", over="ignore"):
            steps = np.asarray(np.rint(values / self.unit * self.parts) + 0.0)  # a whole number has no -0
            is_narrow = steps.max() - steps.min() <= _MOST_STEPS  # which NaN and infinity are not
        is_same = is_narrow and np.array_equal(_bits(self.values(steps)), _bits(values))
        return steps if is_same else None

    @classmethod
    def of(cls, values: Array) -> Self | None:
        """The coarsest step of some rows of a long column of numbers, or None."""
        if values.dtype != np.dtype("<f8") or values.size < _FEWEST_ROWS:
            return None
        few = values.reshape(-1)[:: values.size // _TRIED_ROWS]
        return next((step for step in (cls(*pair) for pair in _PAIRS) if step.steps(few) is not None), None)


_PAIRS = tuple(
    (unit, parts) for parts, unit in product((1e1, 1e2, 1e3, 1e4, 1e5), dict.fromkeys(METRES_PER.values()))
)


def pack_arrays(arrays: list[Array]) -> bytes:
    """Arrays as one block."""
    packed = [_pack(array) for array in arrays]
    head = json.dumps([row for row, _ in packed]).encode()
    return b"".join((struct.pack("<I", len(head)), head, *(blob for _, blob in packed)))


def unpack_arrays(block: bytes) -> list[Array]:
    """Read-only arrays from a block that `pack_arrays` made, equal bit for bit."""
    (length,) = struct.unpack_from("<I", block)
    at = 4 + length
    arrays: list[Array] = []
    for dtype, shape, size, *steps in json.loads(block[4:at]):
        raw = zlib.decompress(block[at : at + size])
        arrays.append(_unpack(raw, dtype=dtype, step=steps[0] if steps else None).reshape(shape))
        at += size
    return arrays


def _pack(array: Array) -> tuple[list[Any], bytes]:
    whole = np.ascontiguousarray(array)
    step = Step.of(whole)
    steps = None if step is None else step.steps(whole)
    if step is None or steps is None:
        blob = zlib.compress(whole.tobytes(), 1)
        return [array.dtype.str, list(array.shape), len(blob)], blob
    least = float(steps.min())
    planes = (steps - least).astype(_COUNT).reshape(-1, 1).view(np.uint8).T.tobytes()
    # Runs are all there is to find between bytes of equal rank.
    packer = zlib.compressobj(1, strategy=zlib.Z_RLE)
    blob = packer.compress(planes) + packer.flush()
    return [array.dtype.str, list(array.shape), len(blob), [step.unit, step.parts, least]], blob


def _unpack(raw: bytes, *, dtype: str, step: list[float] | None) -> Array:
    if step is None:
        return np.frombuffer(raw, dtype=dtype)
    unit, parts, least = step
    planes = np.frombuffer(raw, dtype=np.uint8).reshape(_COUNT.itemsize, -1)
    values = Step(unit, parts).values(np.ascontiguousarray(planes.T).view(_COUNT)[:, 0] + least)
    values.flags.writeable = False
    return values


def _bits(column: Array) -> Array:
    """Doubles as whole numbers: NaN is itself then, and -0 is not 0."""
    return column.view(np.int64)
