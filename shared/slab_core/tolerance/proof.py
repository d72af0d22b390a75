"""What of a floor its readings can prove, whatever the surface that was fitted to them looks like.

A reading counts for a rule where its instrument tells a departure finer than the rule allows. Such readings
must lie near every place of the floor, in the same room, and on both sides of every joint.
"""

from dataclasses import dataclass
from math import ceil, inf, sqrt

import numpy as np
import shapely
from scipy.spatial import cKDTree

from slab_core.numerics.grid import ERROR_STEP_M, Floats, Mask
from slab_core.rooms.geometry import floor_polygon, room_polygon
from slab_core.rooms.model import Floor, Joint, Point
from slab_core.surface.findings import FAR_M
from slab_core.surface.model import Surface
from slab_core.tolerance.model import Place

SURE_SD = 2.0

THREE_HEIGHTS = sqrt(1.5)
"""A departure is one height less the mean of two others, as if their errors had nothing in common."""

TOLD_SDS = SURE_SD * THREE_HEIGHTS
"""Readings tell a departure from none to so many of their standard deviations."""

LEVELLED_M = 6 * 0.3048
"""Waves under shorter edges are proven with the edge and a feeler, not with a level (common practice): for
them readings need lie no closer than for an edge of this length."""

ON_WALL_M = 1e-6
AT_WALL_M = 0.05
"""A reading noted so far inside a wall still counts for the room beside it."""

ALONG_JOINT_M = 0.3
BESIDE_JOINT_M = 0.02
"""Places are looked at so far apart along a joint; the floor goes on behind it where there is any so near."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unread:
    """A place and its distance to the nearest reading that counts, infinite where its room has none, or its
    side of the `joint`."""

    at: Point
    away_m: float
    joint: str = ""


def reach_m(length_m: float) -> float:
    """How far a place may lie from the nearest reading under an edge: as in the middle of a square of
    readings half an edge apart, and never farther than a floor counts as measured at all."""
    return min(max(length_m, LEVELLED_M) / 2.0 / sqrt(2.0), FAR_M)


def reading_sds_m(surface: Surface) -> Floats:
    """One standard deviation for each observation: the larger of what its instrument claims and what the fit
    finds. Many quiet readings average noise away, but not an error that they share."""
    spline = surface.spline
    return np.asarray(np.maximum(spline.obs_claimed_m, np.hypot(spline.obs_sd_m, spline.bias_sd_m)))


def shown_to_fail(places: tuple[Place, ...], *, gap_m: float, surface: Surface) -> bool:
    """Whether the fitted floor somewhere departs by more than is allowed and the readings leave unsure."""
    usual = float(np.median(reading_sds_m(surface)))
    return any(
        place.departure_m - TOLD_SDS * max(usual, _error_m(place, surface=surface)) > gap_m
        for place in places
    )


def _error_m(place: Place, *, surface: Surface) -> float:
    """The largest standard error at a place and under the edge's supports there."""
    grid = surface.grid
    at = np.array([place.at, place.support_a, place.support_b])
    nodes = np.rint((at - (grid.x0_m, grid.y0_m)) / grid.step_m).astype(np.int64)
    i, j = np.clip(nodes, 0, (grid.nx - 1, grid.ny - 1)).T
    return float(surface.error[j, i].max()) * ERROR_STEP_M


def least_read(*, floor: Floor, surface: Surface, counts: Mask) -> tuple[Unread, ...]:
    """The place that lies farthest from the observations that count, shape (n,), and the one on each side of
    each joint that lies farthest from those on its own side."""
    spline = surface.spline
    used = (spline.obs_weight != 0.0) & counts[:, None]
    read = np.column_stack([spline.obs_x_m[used], spline.obs_y_m[used]])
    nodes = surface.grid.places()[surface.inside.ravel()]
    found = [_farthest(nodes, away_m=_away_m(nodes, floor=floor, read=read))]
    shape = floor_polygon(floor)
    for joint in (joint for room in floor.rooms for joint in room.joints):
        for side in (1.0, -1.0):
            beside, across = _beside(joint, side=side, read=read)
            beside = beside[shapely.contains_xy(shape, beside)]
            if len(beside):
                own = _nearest_m(beside, read=read[across > 0.0])
                found.append(_farthest(beside, away_m=own, joint=joint.id))
    return tuple(found)


def _farthest(places: Floats, *, away_m: Floats, joint: str = "") -> Unread:
    worst = int(away_m.argmax())
    x, y = places[worst]
    return Unread(at=(float(x), float(y)), away_m=float(away_m[worst]), joint=joint)


def _away_m(nodes: Floats, *, floor: Floor, read: Floats) -> Floats:
    """Distances of places to the nearest reading of their room; in a doorway those of both rooms count."""
    away, roomless = np.full(len(nodes), inf), np.ones(len(nodes), dtype=np.bool_)
    for room in floor.rooms:
        shape = room_polygon(room).buffer(ON_WALL_M)
        shapely.prepare(shape)
        own = shapely.contains_xy(shape, nodes)
        away[own] = _nearest_m(nodes[own], read=read[shapely.contains_xy(shape.buffer(AT_WALL_M), read)])
        roomless &= ~own
    away[roomless] = _nearest_m(nodes[roomless], read=read)
    return away


def _nearest_m(places: Floats, *, read: Floats) -> Floats:
    return np.asarray(cKDTree(read).query(places)[0]) if len(read) else np.full(len(places), inf)


def _beside(joint: Joint, *, side: float, read: Floats) -> tuple[Floats, Floats]:
    """Places along one side of a joint, and how far readings lie off it on that side."""
    start, end = np.array(joint.start), np.array(joint.end)
    size = float(np.hypot(*(end - start)))
    normal = side * np.array([start[1] - end[1], end[0] - start[0]]) / size
    share = np.linspace(0.0, 1.0, ceil(size / ALONG_JOINT_M) + 1)[:, None]
    return start + share * (end - start) + BESIDE_JOINT_M * normal, (read - start) @ normal
