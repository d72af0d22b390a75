"""How E57 packs one field of its points: floats as they are, whole numbers in as many bits as they need."""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from slab_core.numerics.grid import Floats
from slab_core.numerics.kernel import kernel

Bytes = NDArray[np.uint8]
WORD_BYTES = 8
SPARE = np.zeros(16, dtype=np.uint8)


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One field of the points: a float of 4 or 8 bytes, or whole numbers from `low` to `high`.

    A value is whole number · scale + offset.
    """

    name: str
    kind: Literal["f4", "f8", "whole"]
    low: int = 0
    high: int = 0
    scale: float = 1.0
    offset: float = 0.0

    @property
    def bits(self) -> int:
        """How many bits a value takes."""
        return {"f4": 32, "f8": 64}.get(self.kind, (self.high - self.low).bit_length())


@dataclass(slots=True, kw_only=True)
class Rest:
    """Counts the values in bytes that nobody asked for, without keeping them; `skip` bits of the first belong
    to a value before.

    Whole numbers end in words of up to 8 bytes that zeros fill up, which are no values.
    """

    form: Field
    skip: int
    _bytes: int = 0
    _marked_bits: int = 0

    def add(self, part: bytes) -> None:
        """Count the next bytes."""
        marked = part.rstrip(b"\0")
        if marked:
            self._marked_bits = 8 * (self._bytes + len(marked) - 1) + marked[-1].bit_length()
        self._bytes += len(part)

    def values(self) -> int:
        """How many there are, rounded up; of whole numbers up to the last that is not 0."""
        if not self.form.bits:
            return 0
        if self.form.kind != "whole" or (not self._marked_bits and self._bytes > WORD_BYTES):
            return 8 * self._bytes // self.form.bits
        return -(-max(0, self._marked_bits - self.skip) // self.form.bits)


@dataclass(slots=True, kw_only=True)
class Decoder:
    """Takes the bytes of one field, packet by packet, and gives the values that are complete."""

    form: Field
    _parts: list[bytes] = field(default_factory=list)
    _skip: int = 0

    def feed(self, part: bytes) -> None:
        """Take the next bytes."""
        self._parts.append(part)

    def values(self, *, at_most: int) -> Floats:
        """All complete values that were not given yet; bits of an incomplete one are kept."""
        bits = self.form.bits
        if not bits:
            self._parts = []
            return np.full(at_most, self.form.low * self.form.scale + self.form.offset)
        raw = b"".join(self._parts)
        count = min((len(raw) * 8 - self._skip) // bits, at_most)
        values = self._decode(raw, count)
        used = self._skip + count * bits
        self._parts, self._skip = [raw[used // 8 :]], used % 8
        return values

    def rest(self) -> Rest:
        """What was fed and belongs to no value given yet."""
        rest = Rest(form=self.form, skip=self._skip)
        for place, part in enumerate(self._parts):
            own = bytes([part[0] & 0xFF << self._skip & 0xFF]) + part[1:] if part and not place else part
            rest.add(own)
        return rest

    def _decode(self, raw: bytes, count: int) -> Floats:
        if self.form.kind != "whole":
            return np.frombuffer(raw, dtype="<" + self.form.kind, count=count).astype(np.float64)
        numbers = np.empty(count, dtype=np.uint64)
        padded = np.concatenate([np.frombuffer(raw, dtype=np.uint8), SPARE])
        _unpack(padded, self._skip, self.form.bits, numbers)
        return (numbers.astype(np.float64) + self.form.low) * self.form.scale + self.form.offset


@kernel
def _unpack(raw: Bytes, skip: int, bits: int, numbers: NDArray[np.uint64]) -> None:
    """Whole numbers of `bits` bits each, least bit first; `raw` has spare bytes behind."""
    mask = np.uint64(0xFFFFFFFFFFFFFFFF) >> np.uint64(64 - bits)
    for i in range(numbers.shape[0]):
        place = skip + i * bits
        first = place >> 3
        shift = np.uint64(place & 7)
        word = np.uint64(0)
        for b in range(8):
            word |= np.uint64(raw[first + b]) << np.uint64(8 * b)
        word >>= shift
        if bits + (place & 7) > 64:
            word |= np.uint64(raw[first + 8]) << (np.uint64(64) - shift)
        numbers[i] = word & mask
