"""Cuts along rows as pieces with their shape across the row."""

from collections.abc import Iterable
from dataclasses import replace
from itertools import groupby

import numpy as np
import shapely

from slab_core.layout.boards import Cut
from slab_core.layout.model import Piece
from slab_core.layout.rips import rip_m, slants
from slab_core.rooms.model import Ring

_SAME_M2 = 1e-9


def shaped_pieces(*, cuts: list[Cut], width_m: float) -> tuple[Piece, ...]:
    """One piece for each cut, in laying order; together they cover the stretches exactly."""
    found: list[Piece] = []
    for _, in_row in groupby(cuts, key=lambda cut: cut.stretch.row):
        order = 0
        for _, group in groupby(in_row, key=lambda cut: id(cut.stretch)):
            for cut, shape in _shapes(list(group)):
                order += 1
                found.append(_piece(cut=cut, shape=shape, order=order, width_m=width_m))
    return tuple(found)


def _shapes(cuts: list[Cut]) -> Iterable[tuple[Cut, shapely.Geometry | None]]:
    """Each cut with its part of the stretch, or None where the whole stretch is a rectangle."""
    stretch = cuts[0].stretch
    if stretch.shape is None:
        return ((cut, None) for cut in cuts)
    starts, ends = np.array([c.start_m for c in cuts]), np.array([c.end_m for c in cuts])
    boxes = shapely.box(starts, stretch.near_m - 1.0, ends, stretch.far_m + 1.0)
    return zip(cuts, shapely.intersection(stretch.shape, boxes), strict=True)


def _piece(*, cut: Cut, shape: shapely.Geometry | None, order: int, width_m: float) -> Piece:
    near, far = cut.stretch.near_m, cut.stretch.far_m
    outline: tuple[Ring, ...] = ()
    if shape is not None:
        _, near, _, far = (float(v) for v in shape.bounds)
        if abs((cut.end_m - cut.start_m) * (far - near) - shape.area) > _SAME_M2:
            outline = tuple(
                _ring(part) for part in shapely.get_parts(shape) if part.geom_type == "Polygon" and part.area
            )
    piece = Piece(
        row=cut.stretch.row,
        order=order,
        start_m=cut.start_m,
        end_m=cut.end_m,
        near_m=near,
        far_m=far,
        board=cut.board.board,
        board_length_m=cut.board.board_length_m,
        source=cut.source,
        cut_start=cut.cut_start,
        cut_end=cut.cut_end,
        ripped=False,
        outline=outline,
    )
    ripped = rip_m(piece, width_m=width_m) > 0.0
    if not outline and not ripped:
        return piece
    start, end = slants(piece)
    return replace(piece, cut_start=piece.cut_start or start, cut_end=piece.cut_end or end, ripped=ripped)


def _ring(part: shapely.Polygon) -> Ring:
    return tuple((float(x), float(y)) for x, y in part.exterior.coords[:-1])


def more_cuts(*, cuts: list[Cut], pieces: tuple[Piece, ...]) -> int:
    """Cuts that only the pieces' shapes show: ends cut at a slant, whose boards are long enough whole."""
    return sum(
        (piece.cut_start and not cut.cut_start) + (piece.cut_end and not cut.cut_end)
        for cut, piece in zip(cuts, pieces, strict=True)
    )


def piece_area_m2(piece: Piece) -> float:
    """Net area of a piece."""
    if piece.outline:
        return float(sum(shapely.Polygon(ring).area for ring in piece.outline))
    return (piece.end_m - piece.start_m) * (piece.far_m - piece.near_m)
