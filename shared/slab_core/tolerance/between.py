"""How much more an edge may depart that lies between the directions and positions that are tried.

Any edge is first moved aside so that the point of its departure is a node, then turned about it to the
nearest direction that is tried. Its supports are u ahead and v behind.

Moved by δ, at most half the diagonal of a cell, the departure changes by at most δ · |G|, where G is, along x
and y, the largest difference between a slope at the point and one within reach: the mean of the supports'
slopes is such a slope.

Turned by θ, each support moves across the line half-way between both directions, and the departure changes by
uv/(u + v) · θ times the difference of a slope ahead and one behind, both across that line. A direction owns a
wedge on either side that goes half-way to the next, so θ is at most half of that gap and what the edge sweeps
lies in two boxes, one ahead and one behind. With m the longer of u and v, uv/(u + v) is at most m (L - m) / L
and both supports are within m, so that far slopes count less. Small and large turns are told apart, so that
the half-way line is nearly known: across lines at most α from a given one slopes differ by at most those
across that one and sin(α) times the largest difference along any line.

A plane has one slope, so tilt costs nothing. The bound is for the fitted surface as its grid shows it,
straight from node to node in both ways, and where no wall keeps the edge from being turned.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from slab_core.numerics.grid import Floats, Grid, Mask
from slab_core.tolerance.lattice import direction_array
from slab_core.tolerance.slopes import BlockSlopes, Window, most_in_blocks, slopes_of

NEARER = (0.5, 0.65, 1.0)
"""Shares of the edge that its longer side is told apart by."""

TURNED = (0.0, 0.5, 1.0)
"""Shares of the half gap that turns are told apart by."""

BLOCKS_IN_EDGE = 24
"""Nodes are taken together in blocks of this part of the edge."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Turn:
    """Turns away from the direction at `angle`, to one side: from `least` to `most`, in radians."""

    angle: float
    least: float
    most: float

    def size(self) -> float:
        """The largest turn, whichever way."""
        return abs(self.most)

    def across(self) -> tuple[float, float]:
        """The line straight across the middle one of the half-way lines."""
        middle = self.angle + (self.least + self.most) / 4.0
        return -float(np.sin(middle)), float(np.cos(middle))

    def skew(self) -> float:
        """How far half-way lines are from that middle one."""
        return abs(self.most - self.least) / 4.0

    def ahead(self, *, steps: float) -> Window:
        """The box around everything that an edge sweeps ahead of a node, so many steps far."""
        first, last = sorted((self.angle, self.angle + self.most))
        quarters = [k * np.pi / 2 for k in range(-1, 4) if first < k * np.pi / 2 < last]
        angles = np.array([first, last, *quarters])
        x, y = np.append(steps * np.cos(angles), 0.0), np.append(steps * np.sin(angles), 0.0)
        return Window(left=float(x.min()), right=float(x.max()), down=float(y.min()), up=float(y.max()))


def between_m(*, grid: Grid, heights_m: Floats, inside: Mask, departure_m: Floats, length_m: float) -> float:
    """What an edge of any direction and place may depart beyond the largest departure found."""
    if not inside.any():
        return 0.0
    slopes = slopes_of(np.where(inside, heights_m, np.nan), step_m=grid.step_m)
    steps, aside = length_m / grid.step_m, 1.0 / np.sqrt(2.0)
    side = max(1, int(steps / BLOCKS_IN_EDGE))
    round_about, near = Window.around(steps + aside), Window.around(aside)
    x, y = slopes.along((1.0, 0.0), side=side), slopes.along((0.0, 1.0), side=side)
    far_x, far_y = x.within(round_about), y.within(round_about)
    any_line = np.hypot(far_x.spread(), far_y.spread())
    shifted = np.hypot(far_x.difference(x.within(near)), far_y.difference(y.within(near)))
    found = most_in_blocks(np.where(inside, departure_m, -np.inf), side=side)
    plain = found + aside * grid.step_m * shifted
    most = float(plain.max())
    for turn in _turns():
        at_most = plain + length_m * _lever(NEARER[0], turn=turn) * any_line
        if float(at_most.max()) > most:
            across = slopes.along(turn.across(), side=side)
            turned = _turned(across, turn=turn, steps=steps, any_line=any_line)
            most = max(most, float((plain + length_m * turned).max()))
    return most - float(departure_m.max(initial=0.0))


def _turned(across: BlockSlopes, *, turn: _Turn, steps: float, any_line: Floats) -> Floats:
    """The change of departure for each metre of the edge."""
    most = np.zeros_like(any_line)
    for nearest, farthest in pairwise(NEARER):
        differ = across.ahead_and_behind(turn.ahead(steps=farthest * steps))
        skewed = np.minimum(differ + np.sin(turn.skew()) * any_line, any_line)
        most = np.maximum(most, _lever(nearest, turn=turn) * skewed)
    return most


def _lever(share: float, *, turn: _Turn) -> float:
    """The change for each difference of slopes and metre of an edge whose longer side is such a share."""
    return share * (1.0 - share) * turn.size()


def _turns() -> tuple[_Turn, ...]:
    """From each direction that is tried half-way to its neighbours, together all around, the widest first."""
    x, y = direction_array().T.astype(np.float64)
    angles = np.arctan2(y, x)
    after = np.diff(np.append(angles, angles[0] + np.pi)) / 2.0
    turns = [
        _Turn(angle=float(angle), least=first * side, most=last * side)
        for angle, up, down in zip(angles, after, np.roll(after, 1), strict=True)
        for side in (float(up), -float(down))
        for first, last in pairwise(TURNED)
    ]
    return tuple(sorted(turns, key=lambda turn: -turn.size()))
