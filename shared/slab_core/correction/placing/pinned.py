"""A pour that follows pins: straight along each line of pins and straight from line to line."""

from dataclasses import dataclass, replace

import numpy as np

from slab_core.correction.bays import Bay, Bays, bays_in_strips, strip_bounds
from slab_core.correction.connected import parts_of
from slab_core.correction.nodes import Nodes
from slab_core.correction.unit_costs import SCREED_BAY_M
from slab_core.numerics.grid import Floats, Ints, Mask

BESIDE = 0.3
"""Weight of the floor beside a pour, which the pour should meet, against the floor under it."""

FIRM = 300.0
"""Weight of the nodes at a doorway, whose height counts to a hair: pins stand at its threshold."""

SMOOTH = 1e-2
"""Weight of the bends from pin to pin, so that pins which nothing else decides lie in line with others."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strips:
    """The nodes of one pour, the bounds of its strips across the floor's bays and, where its surface bends
    along them, the stations of its pins; in m."""

    where: Mask
    bounds_m: Floats
    stations_m: Floats | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pinned:
    """The surface over one pour: heights in mm at the nodes, those of the slab where it does not reach, and
    where its pins stand: on bounds of strips across, at stations along; in m."""

    height_mm: Floats
    bounds_m: Floats
    stations_m: Floats


def pinned_to(
    *,
    nodes: Nodes,
    target_mm: Floats,
    part: Ints,
    beside: Ints,
    firm: Mask,
    spacing_m: float,
    bay_m: float = SCREED_BAY_M,
) -> Pinned:
    """The surface on pins nearest to the target over the part, beside it with less weight, where it is `firm`
    with more.

    Strips as wide as an edge of `bay_m` can ride, pins as far apart as `spacing_m` along their lines.
    """
    across, along = nodes.bays.turned(x=nodes.x, y=nodes.y)
    near = np.concatenate([part, beside])
    bounds = strip_bounds(across[near], widest_m=bay_m)
    stations = strip_bounds(along[near], widest_m=spacing_m)
    a, b = _hats(across[near], knots=bounds), _hats(along[near], knots=stations)
    rows = (a[:, :, None] * b[:, None, :]).reshape(len(near), -1)
    weight = np.concatenate([np.ones(len(part)), np.full(len(beside), BESIDE)])
    weight[firm[near]] = FIRM
    weight /= weight.sum()
    normal = rows.T @ (rows * weight[:, None])
    normal += SMOOTH / rows.shape[1] * _bends(len(bounds), len(stations))
    pins = np.linalg.lstsq(normal, rows.T @ (weight * target_mm[near]), rcond=None)[0]
    height = nodes.z_mm.copy()
    height[near] = rows @ pins
    return Pinned(height_mm=height, bounds_m=bounds, stations_m=stations)


def bays_over(*, nodes: Nodes, pours: list[Strips]) -> Bays:
    """Bays of several pours, each over its own nodes in its own strips; other nodes get the first bay."""
    phases = np.array([bay.phase for bay in nodes.bays.bays], dtype=np.int32)[nodes.bays.of_node]
    of_node = np.zeros(len(phases), dtype=np.int32)
    bays: list[Bay] = []
    for pour in pours:
        for phase in np.unique(phases[pour.where]).tolist():
            mine = pour.where & (phases == phase)
            made, of_mine = bays_in_strips(
                turn=nodes.bays.turn, ground=nodes.bays.grounds[phase], bounds_m=pour.bounds_m,
                stations_m=pour.stations_m, step_m=nodes.grid.step_m, phase=phase, first=len(bays),
                x=nodes.x[mine], y=nodes.y[mine],
            )  # fmt: skip
            of_node[mine] = len(bays) + of_mine
            bays += made
    return replace(nodes.bays, bays=tuple(bays), of_node=of_node)


def _hats(values: Floats, *, knots: Floats) -> Floats:
    """Weights of the knots at each value, two of them not 0; all 0 beyond the ends."""
    span = float(knots[1] - knots[0])
    if span <= 0.0:
        return np.ones((len(values), len(knots))) / len(knots)
    weights = np.maximum(0.0, 1.0 - np.abs(values[:, None] - knots[None, :]) / span)
    return np.where((values < knots[0] - 1e-9) | (values > knots[-1] + 1e-9), 0.0, weights.T).T


def _bends(across: int, along: int) -> Floats:
    """The sum of squared second differences of pins along and across, as a matrix."""
    total = np.zeros((across * along, across * along))
    place = np.arange(across * along).reshape(across, along)
    for lines in (place, place.T):
        for line in lines:
            for k in range(len(line) - 2):
                row = np.zeros(across * along)
                row[line[k : k + 3]] = (1.0, -2.0, 1.0)
                total += np.outer(row, row)
    return total


def strips_over(*, nodes: Nodes, poured: Mask, bay_m: float = SCREED_BAY_M) -> list[Strips]:
    """The strips of every connected pour whose surface is known already."""
    across, _ = nodes.bays.turned(x=nodes.x, y=nodes.y)
    pours = []
    for part in parts_of(nodes=nodes, where=poured):
        mine = np.zeros(len(across), dtype=np.bool_)
        mine[part] = True
        pours.append(Strips(where=mine, bounds_m=strip_bounds(across[part], widest_m=bay_m)))
    return pours
