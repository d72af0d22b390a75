"""What a reader's own process is asked, and what it says: one JSON object a line."""

import msgspec

from slab_core.errors import Problem
from slab_core.rooms.model import Ring
from slab_core.scans.model import Placement, ScanOptions


class Limits(msgspec.Struct, frozen=True, kw_only=True):
    """What a file may cost to read. `memory_bytes` counts what the process writes to, not what it maps."""

    memory_bytes: int = 1 << 30
    cpu_seconds: int = 600
    wall_seconds: float = 900.0
    result_bytes: int = 1 << 30


class Request(msgspec.Struct, frozen=True, kw_only=True):
    """Read `path`, reduce it over the floor (`shell`, `gaps`), write the columns to `result`."""

    path: str
    result: str
    unit_m: float | None
    shell: Ring
    gaps: tuple[Ring, ...]
    placement: Placement
    options: ScanOptions
    limits: Limits


class Progress(msgspec.Struct, frozen=True, kw_only=True, tag="progress"):
    """So many points are read, of those that the file states."""

    points: int
    claimed: int | None


class Done(msgspec.Struct, frozen=True, kw_only=True, tag="done"):
    """The columns are written; the rest of the result stands here."""

    cell_m: float
    position_sd_m: float
    points_read: int
    points_outside: int
    points_above: int
    cells_covered: int
    cells_cleared: int
    cells_empty: int
    problems: tuple[Problem, ...]
    peak_memory_bytes: int


class Refused(msgspec.Struct, frozen=True, kw_only=True, tag="refused"):
    """The file or the scan in it cannot be used."""

    problems: tuple[Problem, ...]


class Failed(msgspec.Struct, frozen=True, kw_only=True, tag="failed"):
    """The reader itself went wrong; `memory`: for want of memory."""

    memory: bool
    detail: str


Message = Progress | Done | Refused | Failed
COLUMNS = ("x_m", "y_m", "height_m", "standard_error_m", "random_error_m", "points")
"""The columns of a result, written one after the other as numpy arrays."""
