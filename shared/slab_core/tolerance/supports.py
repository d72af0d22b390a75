"""How the edge lies at one node when its departure there is largest."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from slab_core.numerics.grid import Floats, Grid, Mask
from slab_core.numerics.kernel import kernel
from slab_core.rooms.model import Point
from slab_core.tolerance.hulls import WHOLE
from slab_core.tolerance.lattice import DIRECTIONS
from slab_core.tolerance.model import Rule


@dataclass(frozen=True, slots=True, kw_only=True)
class Lie:
    """The edge touches the floor at `support_a` and `support_b` (the highest line through two points of
    one position of the edge, or the lowest on the other side)."""

    departure_m: float
    side: Literal["gap", "rise"]
    support_a: Point
    support_b: Point
    direction_deg: float


def worst_lie(*, grid: Grid, heights_m: Floats, free: Mask, rule: Rule, node: tuple[int, int]) -> Lie:
    """The worst lie of the rule's edge at the node (row, column), over all directions and positions.

    Tries all pairs of supports, so it agrees with straightedge.departures by another way.
    """
    j, i = node
    sides: tuple[tuple[Literal["gap", "rise"], float], ...] = (("gap", 1.0), ("rise", -1.0))
    lies = []
    for d, (dx, dy) in enumerate(DIRECTIONS):
        step = grid.step_m * float(np.hypot(dx, dy))
        for side, sign in sides[: 1 if rule.kind == "gap-only" else 2]:
            found, a, b = _worst_pair(
                heights_m, free[d], j, i, dx, dy, rule.length_m / step, WHOLE, rule.kind == "chord", sign
            )
            lies.append((found, side, dx, dy, a, b))
    found, side, dx, dy, a, b = max(lies, key=lambda lie: lie[0])
    x, y, s = grid.x0_m + i * grid.step_m, grid.y0_m + j * grid.step_m, grid.step_m
    return Lie(
        departure_m=float(found),
        side=side,
        support_a=(x + a * dx * s, y + a * dy * s),
        support_b=(x + b * dx * s, y + b * dy * s),
        direction_deg=float(np.degrees(np.arctan2(dy, dx)) % 180.0),
    )


@kernel
def _worst_pair(
    heights: Floats,
    free: Mask,
    j: int,
    i: int,
    dx: int,
    dy: int,
    span: float,
    close: float,
    chord: bool,
    sign: float,
) -> tuple[float, float, float]:
    """Largest departure at a node of one run, and its supports in steps from the node."""
    ny, nx = heights.shape
    back, ahead = 0, 0
    while True:
        y, x = j - (back + 1) * dy, i - (back + 1) * dx
        if not (0 <= y < ny and 0 <= x < nx and free[y, x]):
            break
        back += 1
    while free[j + ahead * dy, i + ahead * dx]:
        ahead += 1
    n = back + ahead + 1
    z = np.empty(n)
    for k in range(n):
        z[k] = sign * heights[j + (k - back) * dy, i + (k - back) * dx]
    best, best_a, best_b = 0.0, 0.0, 0.0
    whole = n - 1 <= span + close
    m = n if whole else int(np.floor(span + close))
    # Both supports on samples.
    for a in range(max(0, back - m), back):
        for b in range(back + 1, min(n, a + m + 1)):
            ends = (a == 0 and b == n - 1) if whole else abs(b - a - span) <= close
            if chord and not ends:
                continue
            found = z[a] + (z[b] - z[a]) * (back - a) / (b - a) - z[back]
            if found > best:
                best, best_a, best_b = found, a - back, b - back
    if whole or abs(span - np.round(span)) <= close:
        return best, best_a, best_b
    # One support at the end of an edge whose other end is on a sample.
    for start in range(max(0, back - m - 1), back + 1):
        e = start + span
        cell = int(np.floor(e))
        if e <= back or cell + 1 >= n:
            continue
        ze = z[cell] + (e - cell) * (z[cell + 1] - z[cell])
        for a in range(start, start + 1 if chord else back):
            if a >= back:
                continue
            found = z[a] + (ze - z[a]) * (back - a) / (e - a) - z[back]
            if found > best:
                best, best_a, best_b = found, a - back, e - back
    for end in range(back, min(n, back + m + 2)):
        e = end - span
        if e >= back or e < 0.0:
            continue
        cell = int(np.floor(e))
        ze = z[cell] + (e - cell) * (z[cell + 1] - z[cell])
        for b in range(end if chord else back + 1, end + 1):
            if b <= back:
                continue
            found = ze + (z[b] - ze) * (back - e) / (b - e) - z[back]
            if found > best:
                best, best_a, best_b = found, e - back, b - back
    return best, best_a, best_b
