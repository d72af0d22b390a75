"""The fit that finds its own smoothing, position errors and misreads."""

from dataclasses import dataclass

import numpy as np

from slab_core.numerics import banded
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Mask
from slab_core.surface.basis import sixteen
from slab_core.surface.design import Design, place_values, predicted
from slab_core.surface.misreads import Deleted, contradicted, deleted, large, robust_t, soft_weights, suspects
from slab_core.surface.posterior import observation_variance
from slab_core.surface.relief import observed_at, relief_scale
from slab_core.surface.smoothing import LOG_SMOOTHING_MEAN, Smoothed, choose
from slab_core.surveys.model import Observations

SLOPE_ROUNDS = 2
SETTLED_SHARE = 0.03
FAR_STEP, NEAR_STEP = 2.0, 0.4
"""First steps of the search for the smoothing, in ln λ: from nothing known, and from a fit before."""

SOFT_ROUNDS = 10
HARD_ROUNDS = 4
LEAST_TO_SEARCH = 8
"""Among fewer readings there is no majority to contradict one of them."""
LOOK_SDS = 4.0
"""Without any deleted residual beyond this, no search for misreads is made."""

BEYOND_LARGEST_SDS = 0.6
"""Among many good readings the largest comes near √(2 ln n); the search starts this much above it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Task:
    """What the rounds share. `rough` is the design on fewer knots. `value_m` has the plane of slopes
    `plane_slope` taken off; `relief_m2` is what the slab may do unseen at each observation where nothing
    else was read."""

    observations: Observations
    design: Design
    rough: Design
    value_m: Floats
    plane_slope: tuple[float, float]
    relief_m2: Floats
    budget: Budget


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fitted:
    """One fit: the precisions in it, what each observation looks like without itself, and how lively the
    relief between readings is by that."""

    smoothed: Smoothed
    stated: Floats
    used: Floats
    inverse: Floats
    deleted: Deleted
    leverage: Floats
    relief_scale: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Robust:
    """The last fit, what was left out of it, and what looks odd but stayed in."""

    fitted: Fitted
    left_out: Mask
    doubtful: Mask


def fit_robustly(task: Task) -> Robust:
    """Fit; search misreads only if something looks like one; fit again without those found."""
    count = task.design.count
    fitted = _fit(task, share=np.ones(count), before=None)
    nothing = np.zeros(count, dtype=np.bool_)
    odd_sds = np.abs(robust_t(fitted.deleted, noise=fitted.smoothed.noise))
    look = max(LOOK_SDS, float(np.sqrt(2.0 * np.log(max(count, 2)))) + BEYOND_LARGEST_SDS)
    if count < LEAST_TO_SEARCH or not (odd_sds > look).any():
        return Robust(fitted=fitted, left_out=nothing, doubtful=nothing)
    searched = _search(task, fitted)
    odd = suspects(searched.deleted)
    left_out = contradicted(at_m=observed_at(task.observations), found=searched.deleted, suspect=odd)
    for _ in range(HARD_ROUNDS):
        fitted = _fit(task, share=np.where(left_out, 0.0, 1.0), before=fitted)
        now_odd = suspects(fitted.deleted)
        more = contradicted(at_m=observed_at(task.observations), found=fitted.deleted, suspect=now_odd | odd)
        changed = (left_out | more) & now_odd & large(fitted.deleted)
        if (changed == left_out).all():
            break
        left_out = changed
    else:
        fitted = _fit(task, share=np.where(left_out, 0.0, 1.0), before=fitted)
    return Robust(fitted=fitted, left_out=left_out, doubtful=odd & ~left_out)


def _search(task: Task, fitted: Fitted) -> Fitted:
    """Reweight by deleted residuals until the weights settle."""
    share = soft_weights(fitted.deleted, noise=fitted.smoothed.noise)
    for _ in range(SOFT_ROUNDS):
        fitted = _fit(task, share=share, before=fitted)
        now = soft_weights(fitted.deleted, noise=fitted.smoothed.noise)
        if np.abs(now - share).max() < 0.05:
            break
        share = now
    return fitted


def _fit(task: Task, *, share: Floats, before: Fitted | None) -> Fitted:
    """The slopes under misplaced readings and the smoothing come from the fit before, or from a rough one."""
    known = before.smoothed if before else _rough(task, share=share)
    stated = _stated_precision(task, known)
    smoothed = choose(
        design=task.design,
        precision=stated * share,
        value_m=task.value_m,
        start=known.log_smoothing,
        budget=task.budget,
        first_step=NEAR_STEP,
    )
    return _finish(task, smoothed=smoothed, stated=stated, used=stated * share)


def _rough(task: Task, *, share: Floats) -> Smoothed:
    """Fits on fewer knots until the slopes under the readings settle."""
    stated, start, step = _stated_precision(task, None), LOG_SMOOTHING_MEAN, FAR_STEP
    for _ in range(SLOPE_ROUNDS):
        smoothed = choose(
            design=task.rough,
            precision=stated * share,
            value_m=task.value_m,
            start=start,
            budget=task.budget,
            first_step=step,
        )
        again = _stated_precision(task, smoothed)
        if (np.abs(again - stated) <= SETTLED_SHARE * stated).all():
            break
        stated, start, step = again, smoothed.log_smoothing, NEAR_STEP
    return smoothed


def _finish(task: Task, *, smoothed: Smoothed, stated: Floats, used: Floats) -> Fitted:
    inverse = banded.inverse_band(smoothed.found.lower)
    variance = observation_variance(smoothed.found, inverse)
    residual = task.value_m - predicted(design=task.design, coefficients=smoothed.found.coefficients)
    if task.design.beside.shape[1]:
        residual = residual - task.design.beside @ smoothed.found.beside
    without, spread = deleted(residual_m=residual, variance=variance, used=used, stated=stated)
    scale = relief_scale(residual_m=without, variance_m2=spread, relief_m2=task.relief_m2)
    sd = np.sqrt(smoothed.noise * spread + scale * task.relief_m2)
    return Fitted(
        smoothed=smoothed,
        stated=stated,
        used=used,
        inverse=inverse,
        leverage=used * variance,
        deleted=Deleted(residual_m=without, sd_m=sd),
        relief_scale=scale,
    )


def _stated_precision(task: Task, smoothed: Smoothed | None) -> Floats:
    """1/variance of each observation: its own, and that of its place times the slope there.

    An observation of several places is taken to be misplaced as a whole.
    """
    seen, own = task.observations, np.square(task.observations.sd_m)
    if not seen.position_sd_m.any():
        return np.asarray(1.0 / own)
    slope_x = (seen.weight * task.plane_slope[0]).sum(axis=1)
    slope_y = (seen.weight * task.plane_slope[1]).sum(axis=1)
    if smoothed is not None:
        slope_x = slope_x + _slope(task, smoothed, along_x=True)
        slope_y = slope_y + _slope(task, smoothed, along_x=False)
    return np.asarray(1.0 / (own + np.square(seen.position_sd_m) * (slope_x**2 + slope_y**2)))


def _slope(task: Task, smoothed: Smoothed, *, along_x: bool) -> Floats:
    design, seen = smoothed.found.design, task.observations
    first_axis = along_x != design.swapped
    x, y = (seen.y_m, seen.x_m) if design.swapped else (seen.x_m, seen.y_m)
    total = np.zeros(len(x))
    for place in range(x.shape[1]):
        if not seen.weight[:, place].any():
            continue
        first, values = sixteen(
            basis=design.basis, x_m=x[:, place], y_m=y[:, place], dx=int(first_axis), dy=int(not first_axis)
        )
        slope = place_values(first, values, smoothed.found.coefficients, design.basis.shape[1])
        total += seen.weight[:, place] * slope
    return total
