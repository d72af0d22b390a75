"""Strips of a floor cut where walls and obstacles keep their parts apart: each part is a bay of its own."""

from dataclasses import dataclass

import numpy as np
import shapely

from slab_core.numerics.grid import Floats, Ints
from slab_core.rooms.model import Floor

BORDER_M = 0.15
"""So near a wall lies the border that is filled with short edges the next day (common practice 4-8 in, no
single source). A part of a strip that is no wider is poured with the strip beside it."""

_DUST_M2 = 1e-4
_TOUCH_M = 1e-4
_SNAP_M = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Turn:
    """Axes turned to the strips: across = x·cos + y·sin, along = -x·sin + y·cos."""

    cos: float
    sin: float

    def turned(self, *, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """(across, along) of points, in metres."""
        return x * self.cos + y * self.sin, y * self.cos - x * self.sin

    def back(self, *, across: float, along: float) -> tuple[float, float]:
        """The point at (across, along)."""
        return across * self.cos - along * self.sin, across * self.sin + along * self.cos

    def box(self, *, across: tuple[float, float], along: tuple[float, float]) -> shapely.Polygon:
        """The rectangle between these places across and along."""
        (low, high), (start, end) = across, along
        corners = ((low, start), (high, start), (high, end), (low, end))
        return shapely.Polygon([self.back(across=a, along=b) for a, b in corners])

    def reach(self, shape: shapely.Geometry) -> tuple[tuple[float, float], tuple[float, float]]:
        """How far a shape reaches across and along: (from, to) each."""
        corners = shapely.get_coordinates(shape)
        across, along = self.turned(x=corners[:, 0], y=corners[:, 1])
        return (float(across.min()), float(across.max())), (float(along.min()), float(along.max()))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StripPart:
    """A connected part of the strip from `low_m` to `high_m` across, by its outer ring."""

    low_m: float
    high_m: float
    shape: shapely.Polygon


@dataclass(frozen=True, slots=True, eq=False)
class _Piece:
    """What the walls leave together of one strip, and the part that it belongs to."""

    strip: int
    shape: shapely.Polygon
    part: int


def grounds(floor: Floor) -> dict[int, shapely.Geometry]:
    """What each phase has of the floor; passages between two phases are in both."""
    whole = shapely.Polygon(floor.shell, floor.gaps)
    outlines = [(room.phase, shapely.Polygon(room.outline)) for room in floor.rooms]
    return {
        phase: shapely.difference(whole, shapely.union_all([o for other, o in outlines if other != phase]))
        for phase in {room.phase for room in floor.rooms}
    }


def strip_parts(
    *, ground: shapely.Geometry, turn: Turn, bounds_m: Floats, beyond_m: float, x: Floats, y: Floats
) -> tuple[list[StripPart], Ints]:
    """The parts of the strips between `bounds_m` that hold any of the points, strip by strip, and the part of
    each point. The outer strips take in the ground for `beyond_m` more, up to the wall."""
    pieces = _pieces(ground=ground, turn=turn, bounds_m=bounds_m, beyond_m=beyond_m)
    pieces = _with_borders(pieces, turn=turn)
    across, _ = turn.turned(x=x, y=y)
    above = np.searchsorted(bounds_m, across + 1e-9, side="right").astype(np.int32)
    found = _part_of_points(pieces, strip=np.clip(above - 1, 0, len(bounds_m) - 2), x=x, y=y)
    used, of_point = np.unique(found, return_inverse=True)
    return [_part(pieces, part=part, bounds_m=bounds_m) for part in used.tolist()], of_point.astype(np.int32)


def _pieces(*, ground: shapely.Geometry, turn: Turn, bounds_m: Floats, beyond_m: float) -> list[_Piece]:
    """By strip, and along it from its beginning."""
    pieces: list[_Piece] = []
    (_, (start, end)) = turn.reach(ground)
    last = len(bounds_m) - 2
    for strip in range(last + 1):
        low = float(bounds_m[strip]) - (beyond_m if strip == 0 else 0.0)
        high = float(bounds_m[strip + 1]) + (beyond_m if strip == last else 0.0)
        cut = shapely.intersection(ground, turn.box(across=(low, high), along=(start - 1.0, end + 1.0)))
        found = polygons(cut) or [turn.box(across=(low, high), along=(start, end))]
        for shape in sorted(found, key=lambda one: turn.reach(one)[1]):
            pieces.append(_Piece(strip, shape, len(pieces)))
    return pieces


def polygons(shape: shapely.Geometry) -> list[shapely.Polygon]:
    """The polygons of a shape that are more than dust."""
    parts = shapely.get_parts(shape)
    return [part for part in parts if part.geom_type == "Polygon" and part.area > _DUST_M2]


def _with_borders(pieces: list[_Piece], *, turn: Turn) -> list[_Piece]:
    """Pieces that are all border go with the one beside them that they have the longest line with."""
    joined: list[_Piece] = []
    for piece in pieces:
        low, high = turn.reach(piece.shape)[0]
        beside = (
            [one for one in pieces if abs(one.strip - piece.strip) == 1] if high - low <= BORDER_M else []
        )
        wider = shapely.buffer(piece.shape, _TOUCH_M) if beside else None
        touch = [float(shapely.area(shapely.intersection(wider, one.shape))) for one in beside]
        best = int(np.argmax(touch)) if touch and max(touch) > _TOUCH_M**2 else None
        joined.append(piece if best is None else _Piece(piece.strip, piece.shape, beside[best].part))
    return joined


def _part_of_points(pieces: list[_Piece], *, strip: Ints, x: Floats, y: Floats) -> Ints:
    """Points on a bound belong to their strip where that has floor there, else to whatever is nearest."""
    found = np.full(len(x), -1, dtype=np.int32)
    for piece in pieces:
        mine = np.flatnonzero((strip == piece.strip) & (found < 0))
        shapely.prepare(piece.shape)
        found[mine[shapely.intersects_xy(piece.shape, x[mine], y[mine])]] = piece.part
    rest = np.flatnonzero(found < 0)
    if len(rest):
        points = shapely.points(x[rest], y[rest])
        away = np.stack(
            [shapely.distance(one.shape, points) + _TOUCH_M * (strip[rest] != one.strip) for one in pieces]
        )
        found[rest] = np.array([one.part for one in pieces], dtype=np.int32)[away.argmin(axis=0)]
    return found


def _part(pieces: list[_Piece], *, part: int, bounds_m: Floats) -> StripPart:
    strip = pieces[part].strip
    mine = [piece.shape for piece in pieces if piece.part == part]
    whole = mine[0] if len(mine) == 1 else shapely.union_all(mine, grid_size=_SNAP_M)
    outer = max(polygons(whole) or mine, key=lambda one: float(one.area))
    return StripPart(
        low_m=float(bounds_m[strip]),
        high_m=float(bounds_m[strip + 1]),
        shape=shapely.Polygon(outer.exterior),
    )
