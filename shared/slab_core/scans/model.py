"""A scan of a floor, reduced to one robust height for each cell. Lengths in metres."""

from dataclasses import dataclass

from slab_core.errors import Problem
from slab_core.numerics.grid import Floats, Ints

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
