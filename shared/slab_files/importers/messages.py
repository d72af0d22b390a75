"""What a reader's own process is asked, and what it says: one JSON object a line."""

import msgspec

from slab_core.errors import Problem
from slab_core.scans.model import FloorShape, Placement, ScanOptions


class Limits(msgspec.Struct, frozen=True, kw_only=True):
    """What a file may cost to read. `memory_bytes` counts what the process writes to, not what it maps."""

    memory_bytes: int = 1 << 30
    cpu_seconds: int = 600
    wall_seconds: float = 900.0
    result_bytes: int = 1 << 30


class Request(msgspec.Struct, frozen=True, kw_only=True):
    """Read `path` once, reduce it over the floors, write the columns of each to `result`."""

    path: str
    result: str
    unit_m: float | None
    floors: tuple[FloorShape, ...]
    placement: Placement
    options: ScanOptions
    limits: Limits


class Progress(msgspec.Struct, frozen=True, kw_only=True, tag="progress"):
    """So many points are read, of those that the file states."""

    points: int
    claimed: int | None


class Refused(msgspec.Struct, frozen=True, kw_only=True, tag="refused"):
    """The file, or the scan on one floor, cannot be used."""

    problems: tuple[Problem, ...]


class Reduced(msgspec.Struct, frozen=True, kw_only=True, tag="reduced"):
    """The columns of one floor are written; the rest of its heights stands here."""

    cell_m: float
    position_sd_m: float
    points_read: int
    points_outside: int
    points_above: int
    cells_covered: int
    cells_cleared: int
    cells_empty: int
    problems: tuple[Problem, ...]


class Done(msgspec.Struct, frozen=True, kw_only=True, tag="done"):
    """What was found on each floor, in the order of the request."""

    floors: tuple[Reduced | Refused, ...]
    points_read: int
    peak_memory_bytes: int


class Failed(msgspec.Struct, frozen=True, kw_only=True, tag="failed"):
    """The reader itself went wrong; `memory`: for want of memory."""

    memory: bool
    detail: str


Message = Progress | Done | Refused | Failed
COLUMNS = ("x_m", "y_m", "height_m", "standard_error_m", "random_error_m", "points")
"""The columns of a floor's heights, written one after the other as numpy arrays."""
