"""Columns of readings, gaps and lines as the core's arrays."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from slab_api.intake.reader import MOST_ROWS, Path, Reader
from slab_api.schemas.surveys import GapsDocument, LineDocument, ReadingsDocument
from slab_core.numerics.grid import Floats, Ints
from slab_core.surveys.instruments import INSTRUMENTS, POSITIONS
from slab_core.surveys.model import Gaps, ProfileLine, Readings, Setup

NO_SETUP = -1
ELEVATION_SD_M = INSTRUMENTS["optical-level"].sd_m
"""For elevations whose instrument nobody names."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setups:
    """The setups of one survey by name."""

    setups: tuple[Setup, ...]
    places: Mapping[str, int]

    @classmethod
    def of(cls, setups: tuple[Setup, ...]) -> "Setups":
        """With the first place of each name; doubles are refused elsewhere."""
        places = {setup.id: place for place, setup in reversed(list(enumerate(setups)))}
        return cls(setups=setups, places=places)

    def known(self) -> str:
        """The names, for a fault."""
        return ", ".join(self.places) or "none"


def read_readings(columns: ReadingsDocument, *, setups: Setups, reader: Reader, at: Path) -> Readings:
    """One block of readings. Every row that is wrong is named."""
    rows = len(columns.x)
    setup = _setup_column(columns, rows=rows, setups=setups, reader=reader, at=at)
    usual = np.array([*(found.sd_m for found in setups.setups), ELEVATION_SD_M])
    readings = Readings(
        kind=columns.kind,
        x_m=reader.column(columns.x, (*at, "x")),
        y_m=reader.column(columns.y, (*at, "y")),
        value_m=reader.column(columns.value, (*at, "value"), vertical=True),
        setup=setup,
        sd_m=usual[setup]
        if columns.sd is None
        else spread(columns.sd, rows=rows, reader=reader, at=(*at, "sd"), vertical=True),
        position_sd_m=np.full(rows, POSITIONS["grid"].sd_m)
        if columns.position_sd is None
        else spread(columns.position_sd, rows=rows, reader=reader, at=(*at, "position_sd")),
    )
    check_equal({name: getattr(columns, name) for name in ("x", "y", "value")}, reader=reader, at=at)
    return readings


def read_gaps(columns: GapsDocument, *, reader: Reader, at: Path) -> Gaps:
    """One block of straightedge gaps."""
    rows = len(columns.x0)
    names = ("x0", "y0", "x1", "y1", "gap")
    check_equal({name: getattr(columns, name) for name in names}, reader=reader, at=at)
    usual = np.full(rows, INSTRUMENTS["taper-gauge"].sd_m)
    return Gaps(
        x0_m=reader.column(columns.x0, (*at, "x0")),
        y0_m=reader.column(columns.y0, (*at, "y0")),
        x1_m=reader.column(columns.x1, (*at, "x1")),
        y1_m=reader.column(columns.y1, (*at, "y1")),
        at=_shares(columns.at, rows=rows, reader=reader, at=(*at, "at")),
        rest0=_rest(columns.rest0, rows=rows, reader=reader, at=(*at, "rest0")),
        rest1=_rest(columns.rest1, rows=rows, reader=reader, at=(*at, "rest1")),
        gap_m=reader.column(columns.gap, (*at, "gap"), vertical=True),
        sd_m=usual
        if columns.sd is None
        else spread(columns.sd, rows=rows, reader=reader, at=(*at, "sd"), vertical=True),
    )


def read_line(line: LineDocument, *, setups: Setups, reader: Reader, at: Path) -> ProfileLine:
    """One ordered line of heights."""
    sd = ELEVATION_SD_M
    if line.kind == "rod" and line.setup is None:
        reader.fault("rod readings need the setup they were taken from", (*at, "setup"))
    elif line.setup is not None and line.setup not in setups.places:
        reader.fault(f"there is no setup {line.setup!r}; there are: {setups.known()}", (*at, "setup"))
    elif line.setup is not None:
        sd = setups.setups[setups.places[line.setup]].sd_m
    return ProfileLine(
        id=line.id,
        kind=line.kind,
        start=reader.point(line.from_, (*at, "from")),
        end=reader.point(line.to, (*at, "to")),
        spacing_m=reader.positive(line.spacing, (*at, "spacing")),
        value_m=reader.column(line.value, (*at, "value"), vertical=True),
        setup=line.setup or "",
        sd_m=sd if line.sd is None else reader.positive(line.sd, (*at, "sd"), vertical=True),
        position_sd_m=reader.not_negative(line.position_sd, (*at, "position_sd")),
    )


def check_equal(columns: Mapping[str, Sequence[Any]], *, reader: Reader, at: Path) -> None:
    """Refuse columns that are not as long as the first, at the first row that is missing or too much."""
    (first, reference), *others = columns.items()
    for name, column in others:
        if len(column) != len(reference):
            row = min(len(column), len(reference))
            what = "is missing" if len(column) < len(reference) else f"has no {first}"
            reader.fault(
                f"{name} has {len(column)} rows and {first} has {len(reference)}: row {row + 1} {what}",
                (*at, name, row),
            )


def _setup_column(columns: ReadingsDocument, *, rows: int, setups: Setups, reader: Reader, at: Path) -> Ints:
    if columns.kind == "elevation":
        if columns.setup is not None:
            reader.fault("elevations are heights above the datum and have no setup", (*at, "setup"))
        return np.full(rows, NO_SETUP, dtype=np.int32)
    given = columns.setup
    if given is None and len(setups.setups) == 1:
        return np.zeros(rows, dtype=np.int32)
    if given is None:
        reader.fault(
            f"rod readings need the setup they were taken from; there are: {setups.known()}", (*at, "setup")
        )
        return np.full(rows, NO_SETUP, dtype=np.int32)
    names = given if isinstance(given, list) else [given] * rows
    if len(names) != rows:
        check_equal({"x": columns.x, "setup": names}, reader=reader, at=at)
    return setup_places(names, setups=setups, reader=reader, at=(*at, "setup"), single=names is not given)


def setup_places(
    names: Sequence[Any], *, setups: Setups, reader: Reader, at: Path, single: bool = False
) -> Ints:
    """The place of each row's setup in the survey."""
    places: list[int] = []
    unknown = 0
    for row, name in enumerate(names):
        place = setups.places.get(name, NO_SETUP) if isinstance(name, str) else NO_SETUP
        if place == NO_SETUP and unknown < (1 if single else MOST_ROWS):
            unknown += 1
            reader.fault(
                f"there is no setup {name!r}; there are: {setups.known()}", at if single else (*at, row)
            )
        places.append(place)
    return np.array(places, dtype=np.int32)


def spread(value: Any, *, rows: int, reader: Reader, at: Path, vertical: bool = False) -> Floats:
    """A column, or one length for all rows; none is negative."""
    if not isinstance(value, list):
        return np.full(rows, reader.not_negative(value, at, vertical=vertical))
    if len(value) != rows:
        reader.fault(f"{at[-1]} has {len(value)} rows and there are {rows} readings", at)
    column = reader.column(value, at, vertical=vertical)
    for row in np.flatnonzero(column < 0)[:MOST_ROWS].tolist():
        reader.fault(f"{value[row]} in row {row + 1} is less than 0", (*at, row))
    return column


def _rest(value: Any, *, rows: int, reader: Reader, at: Path) -> Floats | None:
    """Where edges rest, if that is not their end."""
    return None if value is None else _shares(value, rows=rows, reader=reader, at=at)


def _shares(value: Any, *, rows: int, reader: Reader, at: Path) -> Floats:
    """Shares of an edge, between its ends."""
    values = value if isinstance(value, list) else [value] * rows
    if len(values) != rows:
        reader.fault(f"{at[-1]} has {len(values)} rows and x0 has {rows}", at)
    column = np.full(len(values), np.nan)
    for row, share in enumerate(values):
        is_number = isinstance(share, int | float) and not isinstance(share, bool)
        if is_number and 0 <= share <= 1:
            column[row] = share
        else:
            place = (*at, row) if isinstance(value, list) else at
            reader.fault(f"{share!r} is not a share of the edge from 0 to 1", place)
    return column
