"""A scan of a floor, reduced to one robust height for each cell. Lengths in metres."""

from dataclasses import dataclass
from typing import Protocol

from slab_core.errors import Problem
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Ints
from slab_core.rooms.model import Ring

Place = tuple[float, float, float]
"""x, y and height."""

SCANNER_BIAS_M = 0.0015
"""The part of a scanner's error that all points of a place share, so that more points do not lessen it:
1-2 mm, common practice, no single source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """Where a scan stands in the job.

    A scanned point less `origin_m` is turned by `turn_rad` (counter-clockwise, seen from above) and moved
    by `shift_m`. Coordinates of a country go into `origin_m`, which is taken off in double precision.
    """

    origin_m: Place = (0.0, 0.0, 0.0)
    turn_rad: float = 0.0
    shift_m: Place = (0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """A mark that a scan shows at `scanned_m`; `site_m` is its place in the job, where that is known."""

    id: str
    scanned_m: Place
    site_m: Place | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Scan:
    """An uploaded file of points and what its surveyor says of it.

    `sha256` (hexadecimal) names the content, `file` where it is kept. `unit_m` is the length of the file's
    unit where the file does not say it. Without a placement and without targets the scan is in the job's
    own coordinates.
    """

    id: str
    sha256: str
    file: str
    unit_m: float | None = None
    placement: Placement | None = None
    targets: tuple[Target, ...] = ()
    bias_sd_m: float = SCANNER_BIAS_M


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorShape:
    """A floor as a scan is reduced over it."""

    id: str
    shell: Ring
    gaps: tuple[Ring, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanOptions:
    """How a scan is reduced.

    `budget_points` bounds the memory: of a larger scan every cell keeps an even share of its points (8 bytes
    each).
    """

    cell_m: float = 0.025
    bias_sd_m: float = SCANNER_BIAS_M
    least_points: int = 6
    budget_points: int = 40_000_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CellHeights:
    """Result: the floor's height in n cells, in order of y, then of x.

    `x_m`, `y_m` are the cells' middles in the job's coordinates; `height_m` is above the datum, rounded to
    1 µm; `standard_error_m` holds the bias, `random_error_m` does not. `points[i]` of the cell's
    points lay on the floor. `position_sd_m` is that of a place anywhere in a cell, in each direction.
    """

    x_m: Floats
    y_m: Floats
    height_m: Floats
    standard_error_m: Floats
    random_error_m: Floats
    points: Ints
    cell_m: float
    position_sd_m: float
    points_read: int
    points_outside: int
    points_above: int
    cells_covered: int
    cells_cleared: int
    cells_empty: int
    problems: tuple[Problem, ...] = ()


Reduction = CellHeights | tuple[Problem, ...]
"""What a scan shows of a floor, or why it shows nothing of it."""


class ReadScan(Protocol):
    """Reads a scan's file, which the core cannot, and reduces it over floors."""

    def __call__(
        self,
        *,
        scan: Scan,
        placement: Placement,
        floors: tuple[FloorShape, ...],
        options: ScanOptions,
        budget: Budget,
    ) -> tuple[Reduction, ...]:
        """One reduction for each floor. Raises InputRefused for a file that cannot be used, Stopped."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ScannedFloor:
    """What a scan shows of one floor; `blocks` are squares of its cells, few enough for a fit."""

    floor_id: str
    blocks: CellHeights
    cell_m: float
    cells_covered: int
    cells_cleared: int
    cells_empty: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReducedScan:
    """Result of the scans stage: one scan over all floors that it shows, before its height is adjusted.

    `target_residual_m` is by how far each target misses its place, `target_rms_m` their root mean square
    (None for a scan that was placed otherwise).
    """

    scan: str
    placement: Placement
    target_residual_m: dict[str, float]
    target_rms_m: float | None
    points_read: int
    floors: tuple[ScannedFloor, ...]
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanOverlap:
    """How another scan differs from this one where both show the floor: its height above, before either is
    moved, and what remains around the plane through the differences."""

    scan: str
    floor_id: str
    cells: int
    offset_m: float
    tilt_x: float
    tilt_y: float
    rms_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanHeight:
    """The height of a scan, adjusted with everything that ties it.

    `offset_m` was added to its heights, rounded to 0.001 mm; `sd_m` is how sure that is. `readings` by level
    decided it, and differ by `readings_rms_m` from the moved scan. `bias_m` is the part of the scan's error
    that more points do not lessen: as stated, or as the scatter of ten or more readings shows it.
    """

    scan: str
    offset_m: float
    sd_m: float
    bias_m: float
    readings: int
    readings_rms_m: float | None
    target_rms_m: float | None
    overlaps: tuple[ScanOverlap, ...]
