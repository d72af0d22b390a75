"""All height readings of all surveys in one table of columns."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import hypot

import numpy as np

from slab_core.numerics.grid import Floats
from slab_core.surveys.model import ProfileLine, Readings, Survey
from slab_core.surveys.sights import SetupKey


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Where a block of consecutive rows was posted: row k of it is at `pointer`/k."""

    pointer: str
    first: int
    count: int
    line: ProfileLine | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HeightRows:
    """Height readings in the order of surveys, in each first its blocks of readings, then its lines.

    `height_m` is above the datum, NaN for a rod reading of a setup without a height.
    """

    x_m: Floats
    y_m: Floats
    height_m: Floats
    sd_m: Floats
    position_sd_m: Floats
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


def height_rows(*, surveys: tuple[Survey, ...], heights: Mapping[SetupKey, float]) -> HeightRows:
    """The table of all height readings, with the setups' heights above the datum in metres."""
    columns: list[tuple[Floats, ...]] = []
    blocks: list[Block] = []
    first = 0
    for i, survey in enumerate(surveys):
        for k, readings in enumerate(survey.readings):
            columns.append(_reading_columns(readings, survey=survey, heights=heights))
            count = len(readings.value_m)
            blocks.append(Block(pointer=f"/surveys/{i}/readings/{k}/value", first=first, count=count))
            first += count
        for k, line in enumerate(survey.lines):
            columns.append(_line_columns(line, survey=survey, heights=heights))
            count = len(line.value_m)
            blocks.append(Block(pointer=f"/surveys/{i}/lines/{k}/value", first=first, count=count, line=line))
            first += count
    x, y, z, sd, position = (_joined(columns, number) for number in range(5))
    return HeightRows(x_m=x, y_m=y, height_m=z, sd_m=sd, position_sd_m=position, blocks=tuple(blocks))


def _joined(columns: list[tuple[Floats, ...]], number: int) -> Floats:
    return np.concatenate([np.empty(0), *(block[number] for block in columns)])


def _reading_columns(
    readings: Readings, *, survey: Survey, heights: Mapping[SetupKey, float]
) -> tuple[Floats, ...]:
    height = readings.value_m
    if readings.kind == "rod":
        # A rod reading counts down from the line of sight.
        sight = np.array([heights.get((survey.id, setup.id), np.nan) for setup in survey.setups])
        height = sight[readings.setup] - readings.value_m
    return readings.x_m, readings.y_m, height, readings.sd_m, readings.position_sd_m


def _line_columns(
    line: ProfileLine, *, survey: Survey, heights: Mapping[SetupKey, float]
) -> tuple[Floats, ...]:
    (x0, y0), (x1, y1) = line.start, line.end
    share = line.spacing_m * np.arange(len(line.value_m)) / hypot(x1 - x0, y1 - y0)
    height = line.value_m
    if line.kind == "rod":
        height = heights.get((survey.id, line.setup), np.nan) - line.value_m
    same = np.ones(len(line.value_m))
    x = np.asarray(x0 + share * (x1 - x0), dtype=np.float64)
    y = np.asarray(y0 + share * (y1 - y0), dtype=np.float64)
    return x, y, np.asarray(height, dtype=np.float64), same * line.sd_m, same * line.position_sd_m
