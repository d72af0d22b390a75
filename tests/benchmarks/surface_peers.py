"""General-purpose gridding beside which the surface is measured, with its settings pinned here."""

import warnings

import numpy as np
from scipy.interpolate import RBFInterpolator

from slab_core.numerics.grid import Floats

SMOOTHINGS = tuple(10.0**power for power in range(-7, 1))
LEAVE_ONE_OUT_UP_TO = 100
HELD_SAMPLE = 800


def radial_basis(
    at: Floats, value_m: Floats, wanted: Floats, *, smoothing: float, neighbours: int | None = None
) -> Floats:
    """scipy's thin-plate interpolation with smoothing: heights at the wanted places."""
    fitted = RBFInterpolator(
        at, value_m, kernel="thin_plate_spline", smoothing=smoothing, neighbors=neighbours
    )
    return np.asarray(fitted(wanted))


def chosen_smoothing(at: Floats, value_m: Floats) -> float:
    """The decade that predicts best: leaving out one by one where few, a fifth of a sample where many."""
    count = len(value_m)
    if count <= LEAVE_ONE_OUT_UP_TO:
        folds = [np.array([k]) for k in range(count)]
    else:
        order = np.random.default_rng(0).permutation(count)[:HELD_SAMPLE]
        at, value_m = at[order], value_m[order]
        folds = [np.arange(len(order) - len(order) // 5, len(order))]

    def error(smoothing: float) -> float:
        squares = 0.0
        for held in folds:
            rest = np.setdiff1d(np.arange(len(value_m)), held)
            found = radial_basis(at[rest], value_m[rest], at[held], smoothing=smoothing)
            squares += float(np.sum(np.square(found - value_m[held])))
        return squares

    return min(SMOOTHINGS, key=error)


GAUSSIAN_PROCESS = "scikit-learn GP, Matern 2.5 + white noise, 3 restarts"


def gaussian_process(at: Floats, value_m: Floats, wanted: Floats) -> tuple[Floats, Floats]:
    """scikit-learn's Gaussian process: heights and standard errors at the wanted places, metres."""
    from sklearn.gaussian_process import GaussianProcessRegressor
    from sklearn.gaussian_process.kernels import ConstantKernel, Matern, WhiteKernel

    kernel = ConstantKernel(1.0) * Matern(length_scale=1.0, nu=2.5) + WhiteKernel(0.1)
    process = GaussianProcessRegressor(kernel, normalize_y=True, n_restarts_optimizer=3, random_state=0)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it reports parameters that came to the end of their range
        process.fit(at, 1000.0 * value_m)
        mean, sd = process.predict(wanted, return_std=True)
    noise = np.exp(process.kernel_.theta[-1]) * np.var(1000.0 * value_m)
    return np.asarray(mean) / 1000.0, np.sqrt(np.maximum(np.square(sd) - noise, 0.0)) / 1000.0
