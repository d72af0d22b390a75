"""Fill deeper than the greatest lift, poured in several of which none is thinner than can be poured.

The upper lifts of a floor have one thickness, so the surface of each lower one is the finished floor so much
lower: its pins stand in the same way, and what the slab does is in the lowest lift over each place.
"""

from math import ceil, floor

import numpy as np

from slab_core.numerics.grid import STEP_MM, Floats, Mask

SLACK_MM = 1e-6


def upper_lift(*, deepest_mm: float, least_mm: float, lift_mm: float) -> tuple[int, float]:
    """How many lifts the deepest fill takes, and how thick all but the lowest of them are, in whole storage
    steps: an even share of it, but so that what is just too deep for one lift leaves two that can be poured.

    A compound whose greatest lift is not twice its least has no such share (`one_lift.py` keeps plans from
    such depths); of earlier plans half of the greatest is taken.
    """
    if deepest_mm <= lift_mm + SLACK_MM:
        return 1, lift_mm
    most = max(lift_mm - least_mm, lift_mm / 2.0)
    count = max(2, ceil((deepest_mm - lift_mm) / most - SLACK_MM) + 1)
    even = ceil(deepest_mm / count / STEP_MM - SLACK_MM) * STEP_MM
    return count, min(even, floor(most / STEP_MM + SLACK_MM) * STEP_MM)


def lift_depths(fill_mm: Floats, *, upper_mm: float, least_mm: float, lifts: int) -> list[Floats]:
    """How deep each lift is at every node, the top one first; the lowest over a place takes what is left."""
    depths, left = [], fill_mm
    for _ in range(lifts - 1):
        cut: Mask = left > upper_mm + least_mm + SLACK_MM
        depths.append(np.where(cut, upper_mm, left))
        left = np.where(cut, left - upper_mm, 0.0)
    return [*depths, left]
