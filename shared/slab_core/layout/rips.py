"""What of a piece's edges is cut along the board, and which of its ends are cut at a slant."""

from collections.abc import Iterator

from slab_core.layout.model import Piece

_ALONG_SLOPE = 0.577
"""An edge within 30° of the board is ripped, a steeper one cut across: saws cut ends to 60° (from memory)."""

_LEAN_M = 0.005
"""An end that leans less is left as it is, for the gap at the wall takes it (from memory)."""

_SAME_M = 1e-6

Edge = tuple[float, float, float, float]


def rip_m(piece: Piece, *, width_m: float) -> float:
    """Length of cuts along the board: the sides of the piece that are not the board's own."""
    full = piece.far_m - piece.near_m > width_m - _SAME_M
    if not piece.outline:
        return 0.0 if full else piece.end_m - piece.start_m
    along = [edge for edge in _edges(piece) if abs(edge[3] - edge[1]) < _ALONG_SLOPE * abs(edge[2] - edge[0])]
    near, far = (_length_at(along, side) for side in (piece.near_m, piece.far_m))
    return _length(along) - (near + far if full else max(near, far))


def slants(piece: Piece) -> tuple[bool, bool]:
    """Whether the start and the end are each cut at a slant."""
    across = [
        edge
        for edge in _edges(piece)
        if abs(edge[3] - edge[1]) >= _ALONG_SLOPE * abs(edge[2] - edge[0]) > _ALONG_SLOPE * _LEAN_M
    ]
    return (
        any(min(edge[0], edge[2]) < piece.start_m + _SAME_M for edge in across),
        any(max(edge[0], edge[2]) > piece.end_m - _SAME_M for edge in across),
    )


def _edges(piece: Piece) -> Iterator[Edge]:
    for ring in piece.outline:
        for a, b in zip(ring, (*ring[1:], ring[0]), strict=True):
            yield (*a, *b)


def _length_at(edges: list[Edge], side_m: float) -> float:
    return _length([e for e in edges if abs(e[1] - side_m) < _SAME_M and abs(e[3] - side_m) < _SAME_M])


def _length(edges: list[Edge]) -> float:
    return sum(abs(edge[2] - edge[0]) for edge in edges)
