"""Rows across a floor: where they lie, how wide the first and last are, and their stretches of floor."""

from dataclasses import dataclass

import numpy as np
import shapely

from slab_core.materials.model import Covering
from slab_core.numerics.grid import Floats

_FLAT_M = 1e-7
"""An edge that rises less than this over its length runs along the rows."""
_SLANT = 0.05
"""An edge that rises less than this share of its length still belongs to the rows: a wall out of square."""
_SAMPLE_M = 0.25
_SLIVER_M2 = 1e-9
_OFFSETS = 96
_SHORTEST_EDGE_M = 0.05


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stretch:
    """One connected piece of floor inside one row (rows count from 1), in the turned frame.

    `shape` is None where the stretch is the plain rectangle start..end × near..far.
    """

    row: int
    start_m: float
    end_m: float
    near_m: float
    far_m: float
    area_m2: float
    shape: shapely.Polygon | None

    def length_m(self) -> float:
        """Extent along the row, which the pieces must span."""
        return self.end_m - self.start_m


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RowPlan:
    """Lines between rows (n + 1 values from 0), and the stretches in laying order."""

    lines: Floats
    stretches: tuple[Stretch, ...]
    thin_rip_m: float


def plan_rows(*, shape: shapely.Geometry, covering: Covering, line_m: float | None = None) -> RowPlan:
    """Rows over a shape whose box starts at (0, 0).

    The first row's width is chosen so that no strip along an edge that runs with the rows, or nearly so, is
    narrower than the least rip; among those the fewest rows, then a whole first row, then rips that
    balance. Centred rows have a line or the middle of a row on the middle of the shape, and `line_m` is a
    line's distance across the rows that is given. `thin_rip_m` is the length of strips that are too narrow
    all the same.
    """
    height = float(shape.bounds[3])
    edges = _edges_with_rows(shape=shape)
    first, thin = _first_row(height=height, covering=covering, edges=edges, line_m=line_m)
    lines = _lines(height=height, first=first, width=covering.width_m)
    return RowPlan(lines=lines, stretches=_stretches(shape=shape, lines=lines), thin_rip_m=thin)


def _edges_with_rows(*, shape: shapely.Geometry) -> Floats:
    """(n, 3): position across the rows, side of the floor (+1 beyond it, -1 before), length.

    An edge a little out of square with the rows is many short ones, each at its own position.
    """
    found = [np.empty((0, 3))]
    for part in shapely.get_parts(shapely.orient_polygons(shape)):
        for ring in (part.exterior, *part.interiors):
            # Oriented, the floor lies to the left of every ring: beyond an edge that runs along the rows.
            xy = shapely.get_coordinates(ring)
            step = np.diff(xy, axis=0)
            along = (np.abs(step[:, 1]) < _SLANT * np.abs(step[:, 0])) & (
                np.abs(step[:, 0]) > _SHORTEST_EDGE_M
            )
            found.extend(_samples(start, by) for start, by in zip(xy[:-1][along], step[along], strict=True))
    return np.concatenate(found)


def _samples(start: Floats, step: Floats) -> Floats:
    """An edge as lines of `_edges_with_rows`: one if it runs with the rows, else several with both ends."""
    parts = 1 if abs(step[1]) < _FLAT_M else 2 + int(abs(step[0]) / _SAMPLE_M)
    at = start[1] + step[1] * np.linspace(0.0, 1.0, parts)
    return np.column_stack([at, np.full(parts, np.sign(step[0])), np.full(parts, abs(step[0]) / parts)])


def _first_row(
    *, height: float, covering: Covering, edges: Floats, line_m: float | None
) -> tuple[float, float]:
    width, least = covering.width_m, min(covering.least_rip_m, height)
    if line_m is not None:
        firsts = [_onto(line_m, width=width, height=height)]
    elif covering.rows_start == "centred":
        firsts = [_onto(height / 2 + part * width, width=width, height=height) for part in (0.0, 0.5)]
    else:
        firsts = _candidates(height=height, width=width, least=least)
    scored = []
    for place, first in enumerate(firsts):
        strips = _strips(first=first, width=width, edges=edges, height=height)
        thin = float(edges[strips < least - 1e-9, 2].sum())
        scored.append((round(thin, 6), len(_lines(height=height, first=first, width=width)), place))
    thin, _, place = min(scored)
    return firsts[place], thin


def _onto(line_m: float, *, width: float, height: float) -> float:
    """Width of the first row for a line at this distance; a hair's breadth is none."""
    first = line_m % width
    return min(height, first if first > _FLAT_M else width)


def _candidates(*, height: float, width: float, least: float) -> list[float]:
    """First-row widths in order of preference: whole, balanced, then others nearest to balanced."""
    if height <= width:
        return [height]
    rest = height % width
    balanced = (rest + width) / 2
    others = np.linspace(least, width, _OFFSETS)
    near_first = others[np.argsort(np.abs(others - balanced), kind="stable")]
    return [width, balanced, *(float(first) for first in near_first)]


def _strips(*, first: float, width: float, edges: Floats, height: float) -> Floats:
    """Width of floor between each edge and the nearest line between rows on the floor's side."""
    at, side = edges[:, 0], edges[:, 1]
    beyond = np.mod(first - at, width)
    before = np.mod(at - first, width)
    strip = np.where(side > 0, beyond, before)
    strip = np.where(strip < 1e-9, width, strip)
    return np.asarray(np.minimum(strip, np.where(side > 0, height - at, at)), dtype=np.float64)


def _lines(*, height: float, first: float, width: float) -> Floats:
    whole = int(np.ceil((height - first) / width - 1e-9)) if height > first + 1e-9 else 0
    lines = np.concatenate([[0.0], first + width * np.arange(whole + 1)])
    lines[-1] = height
    return np.asarray(lines, dtype=np.float64)


def _stretches(*, shape: shapely.Geometry, lines: Floats) -> tuple[Stretch, ...]:
    right = float(shape.bounds[2])
    strips = shapely.box(-1.0, lines[:-1], right + 1.0, lines[1:])
    shapely.prepare(shape)
    found: list[Stretch] = []
    for row, cut in enumerate(shapely.intersection(shape, strips), start=1):
        parts = [part for part in shapely.get_parts(cut) if part.geom_type == "Polygon"]
        whole = [piece for part in parts for piece in _without_holes(part)]
        solid = [part for part in whole if part.area > _SLIVER_M2]
        found.extend(_stretch(row=row, part=part) for part in sorted(solid, key=lambda p: p.bounds))
    return tuple(found)


def _without_holes(part: shapely.Polygon) -> list[shapely.Polygon]:
    """A part cut across at the middle of each hole, so that no board has a hole in it."""
    if not part.interiors:
        return [part]
    low, near, high, far = part.bounds
    middles = sorted((ring.bounds[0] + ring.bounds[2]) / 2 for ring in part.interiors)
    cuts = [low - 1.0, *middles, high + 1.0]
    boxes = shapely.box(np.array(cuts[:-1]), near - 1.0, np.array(cuts[1:]), far + 1.0)
    pieces = shapely.get_parts(shapely.intersection(part, boxes))
    return [p for piece in pieces if piece.geom_type == "Polygon" for p in _without_holes(piece)]


def _stretch(*, row: int, part: shapely.Polygon) -> Stretch:
    start, near, end, far = (float(v) for v in part.bounds)
    plain = abs((end - start) * (far - near) - part.area) < _SLIVER_M2
    return Stretch(
        row=row,
        start_m=start,
        end_m=end,
        near_m=near,
        far_m=far,
        area_m2=float(part.area),
        shape=None if plain else part,
    )
