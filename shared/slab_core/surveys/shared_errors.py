"""Errors that many readings share: a setup's height moves all its readings alike."""

import numpy as np

from slab_core.numerics.grid import Floats, Ints

LEAST_SD_M = 1e-5
"""A setup known better than this moves nothing."""


def setup_errors(*, setup: Ints, sd_m: Floats) -> tuple[Floats, Ints]:
    """What one standard deviation of each setup's height adds to each of n readings, shape (n, k), and the
    numbers of these k setups.

    `setup` is the number of each reading's setup, -1 for what is read from none, and `sd_m` the setups'
    standard deviations above the datum. Where nothing but setups tells heights, the setup with most readings
    is the floor's own datum, and the others are off from it: how high the floor lies as a whole is for the
    network to say, and no straightedge feels it.
    """
    used, count = np.unique(setup[setup >= 0], return_counts=True)
    if not len(used):
        return np.empty((len(setup), 0)), used
    own = np.square(sd_m[used])
    if (setup >= 0).all():
        first = int(count.argmax())
        own = own + own[first]
        used, own = np.delete(used, first), np.delete(own, first)
    kept = own > LEAST_SD_M**2
    columns = (setup[:, None] == used[kept][None, :]) * np.sqrt(own[kept])
    return np.asarray(np.round(columns, 9)), used[kept]
