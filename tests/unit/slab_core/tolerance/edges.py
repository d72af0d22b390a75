"""Departures under a straightedge by trying everything, and a floor with holes to try it on."""

import numpy as np

from slab_core.numerics.grid import Floats
from slab_core.tolerance.model import RuleKind
from tests.slabs import floor_of

KINDS: tuple[RuleKind, ...] = ("both-ways", "gap-only", "chord")


def brute_force(z: Floats, span: float, *, chord: bool) -> Floats:
    """Largest height of a line over every sample, by trying all pairs of points of all positions."""
    n, best = len(z), np.zeros(len(z))
    xs = np.arange(n, dtype=np.float64)
    starts = [*xs, *(xs - span)] if n - 1 > span + 1e-9 else [0.0]
    length = min(span, n - 1.0)
    for start in starts:
        end = start + length
        if start < -1e-9 or end > n - 1 + 1e-9:
            continue
        inner = xs[(xs > start + 1e-9) & (xs < end - 1e-9)]
        at = np.array([start, *inner, end])
        height = np.interp(at, xs, z)
        p, q = ([0], [len(at) - 1]) if chord else np.triu_indices(len(at), 1)
        left, right = at[p, None], at[q, None]
        line = height[p, None] + (height[q] - height[p])[:, None] * (xs - left) / (right - left)
        between = (xs > left + 1e-9) & (xs < right - 1e-9)
        best = np.maximum(best, np.where(between, line - z, 0.0).max(axis=0))
    return best


WAYS = {"pairs": 60, "hulls": 0}
"""The longest edge in steps that is worked out by pairs, so that both ways see every length."""


HOLED = floor_of(
    shell=((0.0, 0.0), (1.3, 0.0), (1.3, 0.62), (0.81, 0.62), (0.81, 1.1), (0.0, 1.1)),
    gaps=(((0.31, 0.37), (0.52, 0.33), (0.57, 0.58), (0.38, 0.61)), ((1.02, 0.2), (1.03, 0.2), (1.03, 0.41))),
)
