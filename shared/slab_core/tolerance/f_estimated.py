"""F-numbers along lines laid on a fitted surface: an estimate that reads high and proves nothing.

The lines are laid as ASTM E1155 wants measured ones (line_placement.py): 2 ft off edges, 4 ft apart, at 45°
in narrow sections, else along and across the longest side.
"""

from math import ceil, cos, radians, sin

import numpy as np
import shapely

from slab_core.numerics.grid import Floats
from slab_core.rooms.geometry import floor_polygon
from slab_core.rooms.model import Floor
from slab_core.surface.model import Surface
from slab_core.surface.sample import evaluate
from slab_core.surveys.model import Profile
from slab_core.tolerance.f_numbers import FOOT_M, LEAST_READINGS, f_numbers
from slab_core.tolerance.line_placement import APART_M, OFF_EDGES_M, line_directions_deg
from slab_core.tolerance.model import FNumbers
from slab_core.tolerance.section import width_m

NOTE = "estimated from the fitted surface, which is smoother than the slab: they read high; measure lines"


def estimated(*, floor: Floor, surface: Surface) -> FNumbers | None:
    """F-numbers of the fitted surface; None where no line of eleven feet fits."""
    profiles = tuple(
        _read(surface, name=f"fitted {k}", start=start, end=end)
        for k, (start, end) in enumerate(_laid(floor), start=1)
    )
    found, _ = f_numbers(profiles=profiles, area_m2=floor.area_m2, width_m=width_m(floor))
    if found is None:
        return None
    return FNumbers(
        ff=found.ff, fl=found.fl, lines=found.lines, spacing_m=FOOT_M, notes=(NOTE,), estimated=True
    )


def _laid(floor: Floor) -> list[tuple[Floats, Floats]]:
    """Starts and ends of the lines that fit."""
    allowed = floor_polygon(floor).buffer(-OFF_EDGES_M, join_style="mitre")
    x0, y0, x1, y1 = floor_polygon(floor).bounds
    centre, reach = np.array([x0 + x1, y0 + y1]) / 2.0, float(np.hypot(x1 - x0, y1 - y0))
    found = []
    for angle in line_directions_deg(floor):
        along = np.array([cos(radians(angle)), sin(radians(angle))])
        aside = np.array([-along[1], along[0]]) * APART_M
        for k in range(-ceil(reach / APART_M), ceil(reach / APART_M) + 1):
            middle = centre + k * aside
            whole = shapely.LineString([middle - reach * along, middle + reach * along])
            pieces = shapely.get_parts(whole.intersection(allowed))
            found += [
                (np.array(piece.coords[0]), np.array(piece.coords[-1]))
                for piece in pieces
                if piece.length >= (LEAST_READINGS - 1) * FOOT_M
            ]
    return found


def _read(surface: Surface, *, name: str, start: Floats, end: Floats) -> Profile:
    length = float(np.hypot(*(end - start)))
    share = np.arange(0.0, length + 1e-9, FOOT_M) / length
    at = start + share[:, None] * (end - start)
    heights = evaluate(spline=surface.spline, x_m=at[:, 0].copy(), y_m=at[:, 1].copy())
    (ax, ay), (bx, by) = at[0], at[-1]
    return Profile(
        id=name, start=(float(ax), float(ay)), end=(float(bx), float(by)), spacing_m=FOOT_M, height_m=heights
    )
