"""How far a crew's work comes out beside what was planned, drawn for a whole floor at once.

Pins are set one by one and the edge rides straight between them; a ground or trowelled spot is off as a
whole; a free pour rises and falls over some feet. A little ripple lies on each. Common practice, no single
source.
"""

from dataclasses import dataclass

import numpy as np

from slab_core.correction.assurance_model import PlacingErrors
from slab_core.correction.bays import Bays
from slab_core.numerics.grid import Floats, Grid
from slab_core.surface.waves import waves_over

SPOT_KNOT_M = 0.6
"""A spot is off alike over about a yard, which is how far apart a crew checks it."""

FREE_KNOT_M = 1.0
"""A free pour heals over 3-6 ft."""

RIPPLE_KNOT_M = 0.25
SAME_LINE_M = 0.3
"""Screed lines so close are one."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlacingDraws:
    """Errors in metres by method, each of the shape (count, ny, nx)."""

    screeded: Floats
    ground: Floats
    patched: Floats
    free: Floats


def placed_errors(
    *,
    grid: Grid,
    bays: Bays,
    pin_spacing_m: float,
    errors: PlacingErrors,
    count: int,
    rng: np.random.Generator,
) -> PlacingDraws:
    """`count` draws of what every method would be off by at the grid's nodes."""
    streams = rng.spawn(5)
    ripple = _waves(grid, sd_m=errors.ripple_m, knot_m=RIPPLE_KNOT_M, count=count, rng=streams[0])
    screed = _screed(grid, bays=bays, spacing_m=pin_spacing_m, count=count, rng=streams[1])
    return PlacingDraws(
        screeded=errors.screeded_m * screed + ripple,
        ground=_waves(grid, sd_m=errors.ground_m, knot_m=SPOT_KNOT_M, count=count, rng=streams[2]) + ripple,
        patched=_waves(grid, sd_m=errors.patched_m, knot_m=SPOT_KNOT_M, count=count, rng=streams[3]) + ripple,
        free=_waves(grid, sd_m=errors.free_m, knot_m=FREE_KNOT_M, count=count, rng=streams[4]) + ripple,
    )


def _waves(grid: Grid, *, sd_m: float, knot_m: float, count: int, rng: np.random.Generator) -> Floats:
    everywhere = np.full((grid.ny, grid.nx), sd_m)
    return waves_over(grid, sd_m=everywhere, knot_m=knot_m).draws(count=count, rng=rng)


def _screed(grid: Grid, *, bays: Bays, spacing_m: float, count: int, rng: np.random.Generator) -> Floats:
    """Straight along each line from pin to pin and straight across from line to line, pins of unit error."""
    places = grid.places()
    across, along = bays.turned(x=places[:, 0], y=places[:, 1])
    lines = _lines(bays, low=float(across.min()), high=float(across.max()))
    low, high = float(along.min()), float(along.max())
    pins = np.linspace(low, high, max(2, int(np.ceil((high - low) / spacing_m)) + 1))
    by_line, by_pin = _shares(across, lines), _shares(along, pins)
    error = rng.standard_normal((count, len(lines), len(pins)))
    # Each pin of a line in turn: lines are few, so this is one product and a short sum.
    along_lines = error @ by_pin.T
    total = np.einsum("kln,nl->kn", along_lines, by_line)
    return np.asarray(total.reshape(count, grid.ny, grid.nx))


def _lines(bays: Bays, *, low: float, high: float) -> Floats:
    wanted = sorted({low, high, *(bay.low_m for bay in bays.bays), *(bay.high_m for bay in bays.bays)})
    kept = [wanted[0]]
    for line in wanted[1:]:
        if line - kept[-1] >= SAME_LINE_M:
            kept.append(line)
    if len(kept) == 1:
        kept.append(kept[0] + SAME_LINE_M)
    return np.array(kept)


def _shares(at: Floats, knots: Floats) -> Floats:
    """Weights of the knots at each place by straight interpolation, shape (n, knots)."""
    cell = np.clip(np.searchsorted(knots, at, side="right") - 1, 0, len(knots) - 2)
    share = np.clip((at - knots[cell]) / (knots[cell + 1] - knots[cell]), 0.0, 1.0)
    weights = np.zeros((len(at), len(knots)))
    weights[np.arange(len(at)), cell] = 1.0 - share
    weights[np.arange(len(at)), cell + 1] = share
    return weights
