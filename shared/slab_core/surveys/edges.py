"""Where straightedges rest, where their gaps were measured, and how the one bears on the other."""

import numpy as np

from slab_core.numerics.grid import Floats
from slab_core.surveys.model import Gaps


def along(gaps: Gaps, share: Floats) -> tuple[Floats, Floats]:
    """The places at a share of each edge: x and y in metres."""
    return gaps.x0_m + share * (gaps.x1_m - gaps.x0_m), gaps.y0_m + share * (gaps.y1_m - gaps.y0_m)


def gap_point(gaps: Gaps) -> tuple[Floats, Floats]:
    """Where along their edges the gaps were measured: x and y in metres."""
    return along(gaps, gaps.at)


def rests(gaps: Gaps) -> tuple[Floats, Floats]:
    """The shares of each edge at which it rests: its ends, if nothing else is said."""
    low = np.zeros(len(gaps.at)) if gaps.rest0 is None else gaps.rest0
    high = np.ones(len(gaps.at)) if gaps.rest1 is None else gaps.rest1
    return low, high


def rest_weights(gaps: Gaps) -> tuple[Floats, Floats]:
    """What the edge's height over each gap weighs the floor at its rests with: they add up to 1.

    Beyond a rest the edge overhangs, and the farther rest counts with a negative weight.
    """
    low, high = rests(gaps)
    second = (gaps.at - low) / (high - low)
    return 1.0 - second, second
