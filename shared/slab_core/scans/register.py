"""Where levelled scans stand, by targets that they share with the job, and how well two scans agree."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from slab_core.errors import InputRefused, refuse
from slab_core.numerics.grid import Floats
from slab_core.scans.blocks import square_of
from slab_core.scans.model import CellHeights, Place, Placement

LEAST_SPREAD_M = 0.5
LARGEST_RESIDUAL_M = 0.02
LEAST_SHARED_CELLS = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Registration:
    """A scan's placement, and for each target by how far it misses its known place, in metres."""

    placement: Placement
    residual_m: Mapping[str, float]
    rms_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Overlap:
    """Second scan less first, in their common cells: a mean step, a tilt along x and y, and what remains."""

    cells: int
    offset_m: float
    tilt_x: float
    tilt_y: float
    rms_m: float


def place_by_targets(*, scanned: Mapping[str, Place], known: Mapping[str, Place]) -> Registration:
    """The turn about the vertical and the shift that bring scanned targets onto known ones.

    Least squares in closed form; targets are matched by name, and the scan is taken to be level. For a
    second scan the known targets are those of the first, placed.

    Raises
    ------
    InputRefused
        when fewer than two targets have a name in common, all are within half a metre, or one misses its
        place by more than 20 mm; the worst is named.
    """
    names = sorted(set(scanned) & set(known))
    if len(names) < 2:
        detail = f"{len(names)} targets have the same name in the scan and in the job; at least two must."
        raise refuse(code="scan-targets-too-few", detail=detail)
    seen, true = (np.array([places[name] for name in names]) for places in (scanned, known))
    origin, centre = seen.mean(axis=0), true.mean(axis=0)
    a, b = seen - origin, true - centre
    if np.hypot(a[:, 0], a[:, 1]).max() < LEAST_SPREAD_M / 2:
        detail = f"The targets lie within {LEAST_SPREAD_M} m of each other, which gives no sure direction."
        raise refuse(code="scan-targets-too-few", detail=detail)
    turn = math.atan2(
        float(np.sum(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])), float(np.sum(a[:, :2] * b[:, :2]))
    )
    placement = Placement(origin_m=_place(origin), turn_rad=turn, shift_m=_place(centre))
    miss = np.linalg.norm(placed(points=seen, placement=placement) - true, axis=1)
    if miss.max() > LARGEST_RESIDUAL_M:
        raise _disagree(names, miss)
    residuals = dict(zip(names, miss.tolist(), strict=True))
    return Registration(placement=placement, residual_m=residuals, rms_m=float(np.sqrt(np.mean(miss**2))))


def _disagree(names: list[str], miss: Floats) -> InputRefused:
    worst = int(np.argmax(miss))
    detail = f"Target {names[worst]!r} misses its place by {miss[worst] * 1000:.0f} mm"
    advice = "check its name and its place, and that the scan was level"
    return refuse(code="scan-targets-disagree", detail=f"{detail}, more than a scan may: {advice}.")


def _place(values: Floats) -> Place:
    x, y, z = values.tolist()
    return (x, y, z)


def placed(*, points: Floats, placement: Placement) -> Floats:
    """Scanned points, shape (n, 3), in the job's coordinates."""
    c, s = math.cos(placement.turn_rad), math.sin(placement.turn_rad)
    turned = (points - np.array(placement.origin_m)) @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    return np.asarray(turned + np.array(placement.shift_m))


def overlap(*, first: CellHeights, second: CellHeights) -> Overlap:
    """How two placed scans of one floor agree where both show it, by the plane through their differences.

    Raises InputRefused when they have fewer than 100 cells in common.
    """
    a, b = _by_cell(first), _by_cell(second)
    shared = sorted(set(a) & set(b)) if first.cell_m == second.cell_m else []
    if len(shared) < LEAST_SHARED_CELLS:
        detail = (
            f"The scans have {len(shared)} cells in common; {LEAST_SHARED_CELLS} are needed to compare them."
        )
        raise refuse(code="scan-overlap-too-small", detail=detail)
    one, two = np.array([a[cell] for cell in shared]), np.array([b[cell] for cell in shared])
    x, y = first.x_m[one], first.y_m[one]
    columns = np.column_stack([np.ones(len(one)), x - x.mean(), y - y.mean()])
    step = second.height_m[two] - first.height_m[one]
    plane = np.linalg.lstsq(columns, step, rcond=None)[0]
    rest = step - columns @ plane
    return Overlap(
        cells=len(shared),
        offset_m=float(plane[0]),
        tilt_x=float(plane[1]),
        tilt_y=float(plane[2]),
        rms_m=float(np.sqrt(np.mean(rest**2))),
    )


def _by_cell(cells: CellHeights) -> dict[tuple[int, int], int]:
    """Row of each cell by the square that it lies in."""
    across, along = square_of(x_m=cells.x_m, y_m=cells.y_m, side_m=cells.cell_m)
    return {place: row for row, place in enumerate(zip(across.tolist(), along.tolist(), strict=True))}
