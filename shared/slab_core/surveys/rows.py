"""All height readings of all surveys in one table of columns."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import hypot

import numpy as np

from slab_core.numerics.grid import Floats, Ints
from slab_core.surveys.collimation import LineOfSight, distances, lines_of_sight
from slab_core.surveys.model import ProfileLine, Readings, SetupKey, Survey


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Where a block of consecutive rows was posted: row k of it is at `pointer`/k."""

    pointer: str
    first: int
    count: int
    line: ProfileLine | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PostedSetup:
    """A setup and where it was posted."""

    key: SetupKey
    pointer: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HeightRows:
    """Height readings in the order of surveys, in each first its blocks of readings, then its lines.

    `height_m` is above the datum, NaN for a rod reading of a setup without a height. What a two-peg
    check says of the line of sight is taken off, and is part of `sd_m`. `setup` is the number of the
    reading's setup among `setups`, -1 for an elevation.
    """

    x_m: Floats
    y_m: Floats
    height_m: Floats
    sd_m: Floats
    position_sd_m: Floats
    setup: Ints
    setups: tuple[PostedSetup, ...]
    blocks: tuple[Block, ...]

    def pointer(self, row: int) -> str:
        """Where one row was posted."""
        block = next(block for block in self.blocks if row < block.first + block.count)
        return f"{block.pointer}/{row - block.first}"

    def pointers(self) -> list[str]:
        """Where every row was posted."""
        return [f"{block.pointer}/{k}" for block in self.blocks for k in range(block.count)]

    def row(self, pointer: str) -> int | None:
        """Number of the row that was posted at a pointer, None if there is none."""
        prefix, _, k = pointer.rpartition("/")
        return next((block.first + int(k) for block in self.blocks if block.pointer == prefix), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sighted:
    """What turns rod readings into heights."""

    heights: Mapping[SetupKey, float]
    lines: Mapping[SetupKey, LineOfSight]

    def height(
        self, survey: Survey, number: int, *, x_m: Floats, y_m: Floats, rod_m: Floats, sd_m: Floats
    ) -> tuple[Floats, Floats]:
        """Heights above the datum and their standard deviations, of readings from one setup."""
        setup = survey.setups[number]
        key = (survey.id, setup.id)
        # A rod reading counts down from the line of sight.
        height = self.heights.get(key, np.nan) - rod_m
        line = self.lines.get(key)
        if line is None:
            return height, sd_m
        too_much, unsure = line.excess(distances(setup, x_m=x_m, y_m=y_m))
        return height + too_much, np.hypot(sd_m, unsure)


def height_rows(*, surveys: tuple[Survey, ...], heights: Mapping[SetupKey, float]) -> HeightRows:
    """The table of all height readings, with the setups' heights above the datum in metres."""
    sighted = _Sighted(heights=heights, lines=lines_of_sight(surveys))
    columns: list[tuple[Floats, ...]] = []
    numbers: list[Ints] = []
    setups = tuple(
        PostedSetup(key=(survey.id, setup.id), pointer=f"/surveys/{i}/setups/{k}")
        for i, survey in enumerate(surveys)
        for k, setup in enumerate(survey.setups)
    )
    keys = [setup.key for setup in setups]
    blocks: list[Block] = []
    first = 0
    for i, survey in enumerate(surveys):
        for k, readings in enumerate(survey.readings):
            columns.append(_reading_columns(readings, survey=survey, sighted=sighted))
            numbers.append(_numbers(readings.setup, survey=survey, keys=keys))
            count = len(readings.value_m)
            blocks.append(Block(pointer=f"/surveys/{i}/readings/{k}/value", first=first, count=count))
            first += count
        for k, line in enumerate(survey.lines):
            columns.append(_line_columns(line, survey=survey, sighted=sighted))
            own = -1 if line.kind == "elevation" else keys.index((survey.id, line.setup))
            numbers.append(np.full(len(line.value_m), own))
            count = len(line.value_m)
            blocks.append(Block(pointer=f"/surveys/{i}/lines/{k}/value", first=first, count=count, line=line))
            first += count
    x, y, z, sd, position = (_joined(columns, number) for number in range(5))
    return HeightRows(
        x_m=x,
        y_m=y,
        height_m=z,
        sd_m=sd,
        position_sd_m=position,
        setup=np.concatenate([np.empty(0, dtype=np.int64), *numbers]),
        setups=setups,
        blocks=tuple(blocks),
    )


def _numbers(setup: Ints, *, survey: Survey, keys: list[SetupKey]) -> Ints:
    """A block's numbers of setups of its survey as numbers among all setups."""
    # The last entry is taken by -1, which stays what it is.
    among = [*(keys.index((survey.id, own.id)) for own in survey.setups), -1]
    return np.asarray(np.array(among, dtype=np.int64)[setup])


def _joined(columns: list[tuple[Floats, ...]], number: int) -> Floats:
    return np.concatenate([np.empty(0), *(block[number] for block in columns)])


def _reading_columns(readings: Readings, *, survey: Survey, sighted: _Sighted) -> tuple[Floats, ...]:
    height, sd = readings.value_m, readings.sd_m
    if readings.kind == "rod":
        height, sd = height.copy(), sd.copy()
        for number in np.unique(readings.setup).tolist():
            own = readings.setup == number
            height[own], sd[own] = sighted.height(
                survey,
                number,
                x_m=readings.x_m[own],
                y_m=readings.y_m[own],
                rod_m=readings.value_m[own],
                sd_m=readings.sd_m[own],
            )
    return readings.x_m, readings.y_m, height, sd, readings.position_sd_m


def _line_columns(line: ProfileLine, *, survey: Survey, sighted: _Sighted) -> tuple[Floats, ...]:
    x, y = line_places(line)
    same = np.ones(len(x))
    height, sd = line.value_m, same * line.sd_m
    if line.kind == "rod":
        number = next(k for k, setup in enumerate(survey.setups) if setup.id == line.setup)
        height, sd = sighted.height(survey, number, x_m=x, y_m=y, rod_m=line.value_m, sd_m=sd)
    return x, y, np.asarray(height, dtype=np.float64), sd, same * line.position_sd_m


def line_places(line: ProfileLine) -> tuple[Floats, Floats]:
    """Where a profile line's readings are: x and y in metres."""
    (x0, y0), (x1, y1) = line.start, line.end
    share = line.spacing_m * np.arange(len(line.value_m)) / hypot(x1 - x0, y1 - y0)
    x = np.asarray(x0 + share * (x1 - x0), dtype=np.float64)
    y = np.asarray(y0 + share * (y1 - y0), dtype=np.float64)
    return x, y
