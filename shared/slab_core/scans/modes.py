"""The lowest dense height of every cell: the floor's, where enough of its returns are among the points."""

import numpy as np
from numpy.typing import NDArray

from slab_core.numerics.grid import Floats, Ints
from slab_core.numerics.kernel import kernel, summing_kernel

Singles = NDArray[np.float32]

BIN_M = 0.002
BINS = 256
DENSE_SHARE = 0.03
"""Share of a cell's points within three bins that makes a height dense.

A table leg 0.7 m high that is scanned evenly has 0.9 % of its points in 6 mm of its height.
"""

FIRST_WINDOW_M = 0.008
NARROW_M, WIDE_M = 0.002, 0.03
SDS_IN_WINDOW = 2.5
WINDOWED_SD = 0.9099
"""Standard deviation of a normal variable within 2.5 of its own, as a share of it."""


def lowest_modes(
    *, ordered: Singles, starts: Ints, least_points: int, step_m: float = 0.0
) -> tuple[Floats, Floats, Ints]:
    """Mean and standard deviation of the lowest dense heights of each cell, and how many they are.

    `ordered` holds the heights by cell, `starts` where each cell begins, shape (cells + 1,). A cell without
    a dense height has a mean that is not a number and no points. Heights that come in steps of `step_m` are
    never looked at more narrowly than that: one of the floor's steps alone is not the floor.
    """
    cells = len(starts) - 1
    mean, sd, used = np.full(cells, np.nan), np.zeros(cells), np.zeros(cells, dtype=np.int32)
    about = 1.5 * step_m
    windows = (max(FIRST_WINDOW_M, about), max(NARROW_M, about), max(WIDE_M, 2 * about))
    steps = np.array([max(BIN_M, step_m), *windows, SDS_IN_WINDOW, WINDOWED_SD])
    _all_modes(ordered, starts, least_points, DENSE_SHARE, steps, np.zeros(BINS, np.int32), mean, sd, used)
    return mean, sd, used


@kernel
def _lowest_at_or_above(z: Singles, floor: float) -> float:
    lowest = np.inf
    for value in z:
        if value >= floor and value < lowest:
            lowest = value
    return lowest


@summing_kernel
def _lowest(z: Singles) -> float:
    lowest = z[0]
    for value in z:
        lowest = min(lowest, value)
    return float(lowest)


@kernel
def _fill(z: Singles, low: float, width: float, bins: Ints) -> None:
    """Count heights from `low` upwards; the last bin takes all that is higher, which spares a branch."""
    bins[:] = 0
    last = np.float32(bins.shape[0] - 1)
    start, inverse = np.float32(low), np.float32(1.0 / width)
    for value in z:
        bins[int(min((value - start) * inverse, last))] += 1
    bins[-1] = 0


@kernel
def _fill_part(z: Singles, low: float, width: float, bins: Ints) -> None:
    """The same where some heights are below `low`."""
    bins[:] = 0
    for value in z:
        at = (value - low) / width
        if 0.0 <= at < bins.shape[0]:
            bins[int(at)] += 1


@kernel
def _first_peak(bins: Ints, need: int) -> int:
    """The first bin that holds enough with its two neighbours, moved up to where they hold most."""
    last = bins.shape[0] - 1
    for b in range(bins.shape[0]):
        held = bins[b] + bins[max(b - 1, 0)] * (b > 0) + bins[min(b + 1, last)] * (b < last)
        if held < need:
            continue
        while b < last - 1:
            above = bins[b] + bins[b + 1] + bins[b + 2]
            if above <= held:
                break
            held = above
            b += 1
        return b
    return -1


@kernel
def _window_of_bins(bins: Ints, centre: float, half: float) -> tuple[int, float, float]:
    """Points, mean and standard deviation of the bins whose middles lie within a window, in bins."""
    first = max(0, int(np.ceil(centre - half - 0.5)))
    beyond = min(bins.shape[0], int(np.floor(centre + half - 0.5)) + 1)
    n = 0
    total = 0.0
    squares = 0.0
    for b in range(first, beyond):
        away = b + 0.5 - centre
        n += bins[b]
        total += bins[b] * away
        squares += bins[b] * away * away
    if n == 0:
        return 0, centre, 0.0
    mean = total / n
    return n, centre + mean, np.sqrt(max(squares / n - mean * mean, 0.0))


@summing_kernel
def _window_of_points(z: Singles, centre: float, half: float) -> tuple[float, float, float]:
    """Points, mean and standard deviation of the heights within a window.

    Distances from its middle are millimetres, so that single precision holds their sums to a nanometre.
    """
    middle, reach = np.float32(centre), np.float32(half)
    none, one = np.float32(0.0), np.float32(1.0)
    n, total, squares = none, none, none
    for i in range(z.shape[0]):
        away = z[i] - middle
        inside = one if abs(away) <= reach else none
        away *= inside
        n += inside
        total += away
        squares += away * away
    if n == none:
        return 0.0, centre, 0.0
    mean = total / n
    return float(n), float(middle) + float(mean), np.sqrt(max(float(squares / n - mean * mean), 0.0))


@kernel
def _mode(z: Singles, need: int, steps: Floats, bins: Ints) -> tuple[int, float, float]:
    width = steps[0]
    low = _lowest(z)
    _fill(z, low - width, width, bins)
    while low < np.inf:
        peak = _first_peak(bins, need)
        if peak >= 0:
            centre = peak + 0.5
            half = steps[1] / width
            for _ in range(4):
                _, moved, sd = _window_of_bins(bins, centre, half)
                wide = min(max(steps[4] * sd / steps[5], steps[2] / width), steps[3] / width)
                still = abs(moved - centre) < 0.05 and abs(wide - half) < 0.2
                centre, half = moved, wide
                if still:
                    break
            centre = low - width + centre * width
            n, mean, sd = _window_of_points(z, centre, half * width + width)
            return int(n), mean, sd / steps[5]
        low = _lowest_at_or_above(z, low + 0.9 * width * bins.shape[0])
        _fill_part(z, low - width, width, bins)
    return 0, np.nan, 0.0


@kernel
def _all_modes(
    ordered: Singles,
    starts: Ints,
    least: int,
    share: float,
    steps: Floats,
    bins: Ints,
    mean: Floats,
    sd: Floats,
    used: Ints,
) -> None:
    for k in range(mean.shape[0]):
        z = ordered[starts[k] : starts[k + 1]]
        if z.shape[0] >= least:
            need = max(least, int(share * z.shape[0]))
            used[k], mean[k], sd[k] = _mode(z, need, steps, bins)
