"""Edges of a ring, and how much of one is taken by something that lies along it."""

from collections.abc import Iterable
from math import hypot

from slab_core.rooms.model import Point, Ring

Edge = tuple[Point, Point]
_PARALLEL_COSINE = 0.9


def edges(ring: Ring) -> tuple[Edge, ...]:
    """The ring's edges; edge i runs from vertex i to the next."""
    return tuple(zip(ring, ring[1:] + ring[:1], strict=True))


def edge_name(index: int, *, count: int) -> str:
    """An edge by the numbers of its vertices, of which the first is 1: "2-3", and "4-1" for the last."""
    return f"{index + 1}-{(index + 1) % count + 1}"


def length_m(edge: Edge) -> float:
    """Length of an edge in metres."""
    (x0, y0), (x1, y1) = edge
    return hypot(x1 - x0, y1 - y0)


def project(point: Point, *, edge: Edge) -> tuple[float, float]:
    """Where a point falls on the edge's line: metres along from its start, and distance to the line.

    The distance is positive on the left of the edge.
    """
    (x0, y0), (x1, y1) = edge
    size = length_m(edge)
    ux, uy = (x1 - x0) / size, (y1 - y0) / size
    dx, dy = point[0] - x0, point[1] - y0
    return dx * ux + dy * uy, ux * dy - uy * dx


def distance_to_edge(point: Point, *, edge: Edge) -> float:
    """Distance in metres from a point to the nearest point of the edge."""
    along, across = project(point, edge=edge)
    beyond = max(0.0, -along, along - length_m(edge))
    return hypot(across, beyond)


def cosine(one: Edge, other: Edge) -> float:
    """|cos| of the angle between two edges' directions: 1 when parallel."""
    (ax, ay), (bx, by) = one
    (cx, cy), (dx, dy) = other
    dot = (bx - ax) * (dx - cx) + (by - ay) * (dy - cy)
    return abs(dot) / (length_m(one) * length_m(other))


def taken(edge: Edge, *, by: Iterable[Edge], within_m: float) -> tuple[tuple[float, float], ...]:
    """Stretches of the edge (metres along it, in order, apart) along which something of `by` lies.

    Lying along means parallel and no farther off than `within_m`.
    """
    spans = sorted(span for other in by if (span := _span(edge, other, within_m=within_m)))
    joined: list[tuple[float, float]] = []
    for low, high in spans:
        if joined and low <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], high))
        else:
            joined.append((low, high))
    return tuple(joined)


def _span(edge: Edge, other: Edge, *, within_m: float) -> tuple[float, float] | None:
    if cosine(edge, other) < _PARALLEL_COSINE:
        return None
    (a, off_a), (b, off_b) = project(other[0], edge=edge), project(other[1], edge=edge)
    low, high = max(0.0, min(a, b)), min(length_m(edge), max(a, b))
    if high <= low or max(abs(off_a), abs(off_b)) > within_m:
        return None
    return low, high
