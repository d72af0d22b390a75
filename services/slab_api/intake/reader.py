"""Reads lengths of a posted document in its units, and gathers every fault with its place."""

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import msgspec
import numpy as np

from slab_api.bodies.pointers import pointer
from slab_api.schemas.units import UnitsDocument
from slab_app.errors import Fault
from slab_core.numerics.grid import Floats
from slab_core.rooms.model import Point
from slab_core.units.lengths import METRES_PER, LengthRefused, LengthUnit
from slab_core.units.parse import parse_length, read_unit

Path = tuple[str | int, ...]

MOST_ROWS = 20
"""Rows of one column named one by one."""

_RIGHT = "write a number in the document's unit, or a text such as 12' 3-5/8\" or 3.75 m"


# Typed, since 1, 1.0 and True are equal but not all lengths. Bounded texts only reach it, so it stays small.
@lru_cache(maxsize=8192, typed=True)
def _parsed(value: float | str, unit: LengthUnit | None) -> float:
    """The same few lengths come again and again, and reading one exactly takes tens of microseconds."""
    return parse_length(value, unit=unit)


class Reader:
    """Lengths as metres; what cannot be read becomes a fault, and NaN or a like stand-in goes on."""

    def __init__(self, *, units: UnitsDocument, at: Path = ("units",)) -> None:
        self.faults: list[Fault] = []
        self._length = self._unit(units.length, (*at, "length"))
        self._height = self._length if units.height is None else self._unit(units.height, (*at, "height"))

    @property
    def height_unit(self) -> LengthUnit | None:
        """The unit of bare numbers that are vertical; None if the document names none that is known."""
        return self._height

    @property
    def metres_per_length(self) -> float:
        """For whole columns of the plan; NaN without a known unit."""
        return METRES_PER[self._length] if self._length else float("nan")

    @property
    def metres_per_height(self) -> float:
        """For whole columns of what is vertical; NaN without a known unit."""
        return METRES_PER[self._height] if self._height else float("nan")

    def fault(self, detail: str, at: Path) -> None:
        """Note what is wrong at a place."""
        self.faults.append(Fault(detail=detail, pointer=pointer(at)))

    def length(self, value: float | str, at: Path, *, vertical: bool = False) -> float:
        """One length in metres; NaN, with a fault, for what is none."""
        unit = self._height if vertical else self._length
        try:
            is_none = isinstance(value, bool) or not isinstance(value, str | float | int)
            if is_none:
                shown = msgspec.json.encode(value).decode()[:60]
                self.fault(f"{shown} is neither a number nor a text; {_RIGHT}", at)
                return float("nan")
            return _parsed(value, unit)
        except LengthRefused as refused:
            # That the document's own unit is unknown has been said once, at its place.
            if not (unit is None and refused.code == "unit-missing"):
                self.fault(refused.detail, at)
            return float("nan")

    def positive(self, value: float | str, at: Path, *, vertical: bool = False) -> float:
        """One length that has to be more than nothing."""
        metres = self.length(value, at, vertical=vertical)
        if metres <= 0:
            self.fault(f"{value} is not more than 0", at)
        return metres

    def not_negative(self, value: float | str, at: Path, *, vertical: bool = False) -> float:
        """One length that may be nothing, but not less."""
        metres = self.length(value, at, vertical=vertical)
        if metres < 0:
            self.fault(f"{value} is less than 0", at)
        return metres

    def point(self, place: Sequence[Any], at: Path) -> Point:
        """A place in the plan."""
        return self.length(place[0], (*at, 0)), self.length(place[1], (*at, 1))

    def ring(self, places: Sequence[Sequence[Any]], at: Path) -> tuple[Point, ...]:
        """The vertices of an outline."""
        return tuple(self.point(place, (*at, row)) for row, place in enumerate(places))

    def column(self, values: Sequence[Any], at: Path, *, vertical: bool = False) -> Floats:
        """A column of lengths in metres, shape (n,)."""
        unit = self._height if vertical else self._length
        if unit is not None and set(map(type, values)) <= {int, float}:
            try:
                return np.asarray(values, dtype=np.float64) * METRES_PER[unit] + 0.0  # and no -0
            except OverflowError:
                pass  # read one by one, so that the row is named
        return self._rows(values, at, vertical=vertical)

    def _rows(self, values: Sequence[Any], at: Path, *, vertical: bool) -> Floats:
        column = np.full(len(values), np.nan)
        faults = len(self.faults)
        for row, value in enumerate(values):
            if len(self.faults) - faults < MOST_ROWS:
                column[row] = self.length(value, (*at, row), vertical=vertical)
        return column

    def _unit(self, name: str, at: Path) -> LengthUnit | None:
        try:
            return read_unit(name)
        except LengthRefused as refused:
            self.fault(refused.detail, at)
            return None
