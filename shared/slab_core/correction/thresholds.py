"""Doorways and sides of obstacles: the range that a plane may pass through, and what to say when none can."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil, hypot

import numpy as np

from slab_core.errors import Problem
from slab_core.numerics.grid import HEIGHT_STEP_M, Floats, Grid, to_metres
from slab_core.rooms.model import Floor, Point
from slab_core.rooms.thresholds import threshold_lines
from slab_core.surface.model import Surface
from slab_core.units.display import in_both, inches, millimetres
from slab_core.units.lengths import METRES_PER_INCH as INCH_M

LONGEST_STEP_M = 0.2
"""Heights along a threshold are looked at so closely at least."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DoorRange:
    """The slab after correction must lie between low and high (m, above the datum) from start to end: along a
    doorway, or (where it is no door) along a side of an obstacle."""

    pointer: str
    room: str
    id: str
    start: Point
    end: Point
    low_m: float
    high_m: float
    build_up_m: float
    is_door: bool = True

    def ends(self) -> tuple[Point, Point]:
        """A plane that is in range at both ends is in range along the whole line."""
        return self.start, self.end

    def said(self) -> str:
        """What it is, as texts name it."""
        return f"{'opening' if self.is_door else 'obstacle'} {self.id}"


def door_ranges(
    *, floor: Floor, build_up_m: float, room_pointers: Mapping[str, str]
) -> tuple[DoorRange, ...]:
    """Ranges of everything with a threshold; `build_up_m` is adhesive film and board."""
    return tuple(
        DoorRange(
            pointer=f"{room_pointers.get(room.id, f'/rooms/{i}')}/{held.pointer}",
            room=room.id,
            id=held.id,
            start=held.line[0],
            end=held.line[1],
            low_m=held.threshold.low_m - build_up_m,
            high_m=held.threshold.high_m - build_up_m,
            build_up_m=build_up_m,
            is_door=held.is_door,
        )
        for i, room in enumerate(floor.rooms)
        for held in threshold_lines(room)
    )


def said_all(doors: tuple[DoorRange, ...]) -> str:
    """What they are together."""
    return "doorways" if all(door.is_door for door in doors) else "thresholds"


def slab_is_in_range(*, door: DoorRange, surface: Surface) -> bool:
    """Whether the slab as it is meets the threshold along the whole line."""
    return is_in_range(door=door, heights_m=heights_along(door=door, surface=surface))


def is_in_range(*, door: DoorRange, heights_m: Floats) -> bool:
    """Whether heights along the doorway meet its threshold, to a storage step."""
    return bool(
        np.all((heights_m >= door.low_m - HEIGHT_STEP_M) & (heights_m <= door.high_m + HEIGHT_STEP_M))
    )


def heights_along(*, door: DoorRange, surface: Surface) -> Floats:
    """The slab's heights in metres at places along the doorway."""
    x, y = places_along(door)
    return heights_at(surface=surface, x=x, y=y)


def places_along(door: DoorRange) -> tuple[Floats, Floats]:
    """Nine places along the doorway as x and y, more where it is long."""
    (x0, y0), (x1, y1) = door.ends()
    share = np.linspace(0.0, 1.0, max(9, 1 + ceil(hypot(x1 - x0, y1 - y0) / LONGEST_STEP_M)))
    return x0 + share * (x1 - x0), y0 + share * (y1 - y0)


def heights_at(*, surface: Surface, x: Floats, y: Floats) -> Floats:
    """Heights in metres between the nodes, bilinear; points beyond the grid take its rim."""
    return between(values=to_metres(surface.height), grid=surface.grid, x=x, y=y)


def between(*, values: Floats, grid: Grid, x: Floats, y: Floats) -> Floats:
    """Values (ny, nx) of the grid's nodes at points between them, bilinear; points beyond it take its rim."""
    fx = np.clip((x - grid.x0_m) / grid.step_m, 0, grid.nx - 1)
    fy = np.clip((y - grid.y0_m) / grid.step_m, 0, grid.ny - 1)
    i = np.minimum(fx.astype(np.int64), max(0, grid.nx - 2))
    j = np.minimum(fy.astype(np.int64), max(0, grid.ny - 2))
    i2, j2 = np.minimum(i + 1, grid.nx - 1), np.minimum(j + 1, grid.ny - 1)
    p, q = fx - i, fy - j
    lower = values[j, i] * (1 - p) + values[j, i2] * p
    upper = values[j2, i] * (1 - p) + values[j2, i2] * p
    return np.asarray(lower * (1 - q) + upper * q, dtype=np.float64)


def unmeetable(*, door: DoorRange, nearest_m: tuple[float, float], stopped_by: str, relief: str) -> Problem:
    """The refusal for one doorway; `nearest_m` are slab heights at its two ends on the nearest plane,
    `relief` is a sentence about what would do."""
    finished = [height + door.build_up_m for height in nearest_m]
    low, high = door.low_m + door.build_up_m, door.high_m + door.build_up_m
    worst = max(finished, key=lambda height: max(low - height, height - high))
    side = "above" if worst > high else "below"
    miss = worst - high if worst > high else low - worst
    detail = (
        f"{asked_of(door)}; the nearest that can be reached is {in_both(worst)}, {_miss(miss)} "
        f"{side} the range. What stops it: {stopped_by}. {relief}"
    )
    return Problem(code="threshold-unmeetable", detail=detail, pointer=door.pointer, severity="refusal")


def asked_of(door: DoorRange) -> str:
    """What a threshold asks for, as the beginning of a sentence."""
    low, high = door.low_m + door.build_up_m, door.high_m + door.build_up_m
    return (
        f"{door.said()}: the finished floor must lie between {in_both(low)} and {in_both(high)}, "
        "as heights on the job's datum"
    )


def _miss(metres: float) -> str:
    """Never 0: what no inch fraction shows is said to be less than the least of them."""
    if metres >= INCH_M / 64:
        return in_both(metres)
    return f"less than {inches(INCH_M / 32)} ({millimetres(max(metres, 1e-5), decimals=2)})"
