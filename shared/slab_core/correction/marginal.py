"""How the expected work at each node changes with the height there, when heights are known within errors.

Fill and grinding are pieces of straight lines over the depth, with a step where filling begins; smoothed with
the normal error of the height they have the slopes below, exactly.
"""

from collections.abc import Callable

import numpy as np
from scipy.special import ndtr

from slab_core.correction.work import Case
from slab_core.numerics.grid import Floats

LEAST_SD_MM = 0.01
"""Heights are stored in such steps, so none is known better."""

Slope = Callable[..., Floats]
_NEAR_SDS = 0.05


def bend_per_mm2(*, slope: Slope, case: Case, depth_mm: Floats, sd_mm: Floats) -> Floats:
    """How one of the slopes below changes per mm of depth, shape (n,), from close by on either side."""
    sd = np.maximum(sd_mm, LEAST_SD_MM)
    above, below = (
        slope(case=case, depth_mm=depth_mm + side * _NEAR_SDS * sd, sd_mm=sd) for side in (1.0, -1.0)
    )
    return np.asarray((above - below) / (2.0 * _NEAR_SDS * sd))


def bags_per_mm(*, case: Case, depth_mm: Floats, sd_mm: Floats) -> Floats:
    """Bags per node and mm that the plane lies higher above the slab, shape (n,)."""
    costs, sd = case.costs, np.maximum(sd_mm, LEAST_SD_MM)
    first = costs.bags_per_m2_mm * case.least_mm + costs.bags_per_m2_texture
    slope = costs.bags_per_m2_mm * ndtr((depth_mm - case.least_mm) / sd) + first * _density(depth_mm, sd)
    return np.asarray(case.nodes.area_m2 * slope)


def cost_per_mm(*, case: Case, depth_mm: Floats, sd_mm: Floats) -> Floats:
    """Running cost per node and mm that the plane lies higher above the slab, shape (n,)."""
    nodes, costs, sd = case.nodes, case.costs, np.maximum(sd_mm, LEAST_SD_MM)
    hours = (1.0 - nodes.hand) * costs.hours_per_m2_mm + nodes.hand * costs.hand_hours_per_m2_mm
    grinding = nodes.area_m2 * hours * costs.per_grinding_hour
    begun = nodes.area_m2 * costs.per_m2_filled + nodes.wall_m * costs.per_border_m
    return np.asarray(
        costs.per_bag * bags_per_mm(case=case, depth_mm=depth_mm, sd_mm=sd)
        + begun * _density(depth_mm, sd)
        + grinding * _ground_per_mm(case=case, depth_mm=depth_mm, sd=sd)
    )


def _ground_per_mm(*, case: Case, depth_mm: Floats, sd: Floats) -> Floats:
    """Of the weighted grinding depth: what lies above the plane, and the key where a lift is too thin."""
    costs, key = case.costs, case.least_mm
    low = np.concatenate([[0.0], costs.breaks_mm[:-1]])
    high = np.concatenate([costs.breaks_mm[:-1], [np.inf]])
    total, key_depth = np.zeros_like(depth_mm), 0.0
    for factor, near, far in zip(costs.factors, low, high, strict=True):
        total -= factor * _between(-far, -near, depth_mm, sd)
        if near < key:
            total -= factor * _between(max(0.0, key - far), key - near, depth_mm, sd)
            key_depth += factor * (min(far, key) - near)
    return np.asarray(total + key_depth * _density(depth_mm, sd))


def _between(low: float, high: float, depth_mm: Floats, sd: Floats) -> Floats:
    """How likely the true depth lies between two."""
    return np.asarray(ndtr((high - depth_mm) / sd) - ndtr((low - depth_mm) / sd))


def _density(depth_mm: Floats, sd: Floats) -> Floats:
    """Of the true depth at 0, per mm."""
    return np.asarray(np.exp(-0.5 * np.square(depth_mm / sd)) / (np.sqrt(2.0 * np.pi) * sd))
