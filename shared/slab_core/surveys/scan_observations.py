"""Scans as observations of a floor's surface, beside readings of every other kind."""

from math import ceil, sqrt

import numpy as np

from slab_core.numerics.grid import Floats
from slab_core.scans.blocks import coarser
from slab_core.scans.model import CellHeights, ReducedScan, ScanHeight
from slab_core.surveys.linear import joined, rounded
from slab_core.surveys.model import Network, Observations, Survey
from slab_core.surveys.scan_heights import scans_of

MOST_HEIGHTS = 40_000
"""Of one floor, from all its scans."""


def with_scans(
    seen: Observations,
    *,
    floor_id: str,
    surveys: tuple[Survey, ...],
    network: Network,
    reduced: tuple[ReducedScan, ...],
) -> Observations:
    """The floor's readings, then the heights of its scans, moved as the network says.

    No height is surer than its scan's bias, which more points do not lessen. A fit still takes the bias of
    different places for independent, which it is not: `scan_error_m` is what its result cannot fall below.
    """
    shown = {each.scan: floor for each in reduced for floor in each.floors if floor.floor_id == floor_id}
    if not shown:
        return seen
    heights = {height.scan: height for height in network.scans}
    total = sum(len(floor.blocks.x_m) for floor in shown.values())
    across = max(1, ceil(sqrt(total / MOST_HEIGHTS)))
    parts = [
        _heights(coarser(cells=shown[scan.id].blocks, across=across), heights[scan.id], pointer)
        for scan, pointer in scans_of(surveys)
        if scan.id in shown
    ]
    return joined([seen, *parts])


def scan_error_m(*, floor_id: str, network: Network, reduced: tuple[ReducedScan, ...]) -> float:
    """What more points do not lessen on a floor: the largest bias of its scans, 0 without any."""
    shown = {each.scan for each in reduced for floor in each.floors if floor.floor_id == floor_id}
    return max((height.bias_m for height in network.scans if height.scan in shown), default=0.0)


def _heights(blocks: CellHeights, height: ScanHeight, pointer: str) -> Observations:
    count = len(blocks.x_m)
    weight = np.zeros((count, 3))
    weight[:, 0] = 1.0
    return Observations(
        x_m=_thrice(blocks.x_m),
        y_m=_thrice(blocks.y_m),
        weight=weight,
        value_m=rounded(blocks.height_m + height.offset_m),
        sd_m=rounded(np.hypot(blocks.random_error_m, height.bias_m)),
        position_sd_m=np.full(count, round(blocks.position_sd_m, 9)),
        pointer=(pointer,) * count,
    )


def _thrice(values: Floats) -> Floats:
    """The places of no weight repeat the first, so that they too lie on the floor."""
    return np.repeat(rounded(values)[:, None], 3, axis=1)
