"""Readings that the others contradict, told from real lone humps by what the neighbours would have seen."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from slab_core.numerics.grid import Floats, Mask

SUSPECT_SDS = 5.0
"""A deleted residual beyond so many of its standard deviations is looked at."""

SOFT_SDS = 3.0
"""Beyond so many, a reading loses weight while suspects are searched."""

LEAST_AMOUNT_M = 0.008
"""Less than about 5/16 in is never left out: wall bands, lips and ridges of real slabs reach that."""

NARROWEST_HUMP_M = 0.3
"""Standard deviation of the narrowest lone hump believed real, about 3 ft across at its foot
(common practice, no single source)."""

HUMP_HEIGHT_SD_M = 0.01
"""Of the heights of such humps: they reach 3/4 in, hardly ever more (common practice, no single source)."""

CONTRADICTION = 15.0
"""By so much must the hump worsen the neighbours' sum of squared standardised residuals, with its own height
in it: odds of about 1,800 to 1. What may lie unseen between readings is in the standard deviations."""

FEATURE_NEIGHBOURS = 3
"""So many suspects of one sign among the eight nearest readings are a step or a patch, not misreads."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Deleted:
    """Each observation against the fit made without it, in metres, shape (n,)."""

    residual_m: Floats
    sd_m: Floats

    @property
    def t(self) -> Floats:
        """Residual in its own standard deviations."""
        return self.residual_m / self.sd_m


def deleted(*, residual_m: Floats, variance: Floats, used: Floats, stated: Floats) -> tuple[Floats, Floats]:
    """Deleted residuals, exactly, from one fit, and their variances for unit noise.

    `variance` is that of the fitted values for unit noise, `used` the precision in the fit (0 when
    left out), `stated` the observation's full precision.
    """
    keep = np.maximum(1.0 - used * variance, 1e-9)
    return residual_m / keep, 1.0 / stated + variance / keep


def robust_t(found: Deleted, *, noise: float) -> Floats:
    """Deleted residuals in robust standard deviations, shape (n,).

    Misreads inflate `noise`; the median does not see them. The scale never falls below what the
    stated standard deviations alone would give.
    """
    scale = max(1.4826 * float(np.median(np.abs(found.t))), min(1.0, 1.0 / np.sqrt(noise)))
    return np.asarray(found.t / scale)


def soft_weights(found: Deleted, *, noise: float) -> Floats:
    """Share of its precision that each observation keeps while suspects are searched."""
    t = np.maximum(np.abs(robust_t(found, noise=noise)), 1e-9)
    return np.asarray(np.minimum(1.0, (SOFT_SDS / t) ** 4))


def suspects(found: Deleted) -> Mask:
    """Observations far outside what the others predict."""
    return np.asarray(np.abs(found.t) > SUSPECT_SDS)


def large(found: Deleted) -> Mask:
    """Observations farther from what the others predict than real slabs do by themselves."""
    return np.asarray(np.abs(found.residual_m) >= LEAST_AMOUNT_M)


def contradicted(*, at_m: Floats, found: Deleted, suspect: Mask) -> Mask:
    """Those suspects that can only be misreads.

    A suspect is one when it is large, is no part of a feature that several neighbours show, and the
    narrowest hump believed real, wherever it may peak near the reading, would have shown in the
    other readings. `at_m` has the shape (n, 2).
    """
    out = np.zeros(len(suspect), dtype=np.bool_)
    if not suspect.any() or suspect.all():
        return out
    tree = cKDTree(at_m)
    for i in np.flatnonzero(suspect & large(found)):
        if _is_feature(i=int(i), tree=tree, at_m=at_m, found=found, suspect=suspect):
            continue
        near = np.array(tree.query_ball_point(at_m[i], 4.0 * NARROWEST_HUMP_M), dtype=np.int64)
        near = near[~suspect[near]]
        out[i] = (
            len(near) > 0 and _least_worsening(i=int(i), near=near, at_m=at_m, found=found) > CONTRADICTION
        )
    return out


def _is_feature(*, i: int, tree: cKDTree, at_m: Floats, found: Deleted, suspect: Mask) -> bool:
    distance, near = tree.query(at_m[i], k=min(9, len(at_m)), distance_upper_bound=1.2)
    near = np.asarray(near)[np.isfinite(distance)]
    near = near[near != i]
    same = found.residual_m[near] / found.residual_m[i]
    return int((suspect[near] & (same > 0.4) & (same < 2.5)).sum()) >= FEATURE_NEIGHBOURS


def _least_worsening(*, i: int, near: NDArray[np.int64], at_m: Floats, found: Deleted) -> float:
    """How unlikely a hump through reading i is, by height and neighbours, at the kindest of nine peaks."""
    angles = np.arange(8) * (np.pi / 4.0)
    offsets = np.vstack([np.zeros(2), 0.2 * np.column_stack([np.cos(angles), np.sin(angles)])])
    peaks = at_m[i] + offsets
    squared = np.square(at_m[near][None, :, :] - peaks[:, None, :]).sum(axis=2)
    own = np.square(offsets).sum(axis=1)
    share = np.exp(-(squared - own[:, None]) / (2.0 * NARROWEST_HUMP_M**2))
    residual, sd = found.residual_m[near], found.sd_m[near]
    with_hump = np.square((residual[None, :] - found.residual_m[i] * share) / sd).sum(axis=1)
    own_height = (found.residual_m[i] / HUMP_HEIGHT_SD_M) ** 2
    return float(own_height + (with_hump - np.square(residual / sd).sum()).min())
