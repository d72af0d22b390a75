"""What done work has changed of a slab, and readings near its borders, which nobody knows exactly."""

from dataclasses import replace

import numpy as np

from slab_core.correction.resurvey.standing import EarlierPlan
from slab_core.correction.resurvey.works import labels, works_of
from slab_core.numerics.grid import Floats, Ints
from slab_core.surface.change import changed_at
from slab_core.surface.model import Change
from slab_core.surveys.model import Observations

BORDER_SD_M = 0.01
"""Border strips and the edges of ground places come to lie within about an inch of where they were drawn
(common practice, no single source)."""

_STOPS, _SHARES = np.polynomial.hermite_e.hermegauss(5)
_SHARES = _SHARES / _SHARES.sum()


def change_of(*, plans: tuple[EarlierPlan, ...], done: frozenset[str]) -> Change:
    """The heights that done work was to leave, less those that the oldest plan began from.

    Where work of several plans is done the newest counts: it began from what had become of the others.
    """
    first = plans[0].began
    height, grid, every = np.zeros_like(first), plans[0].plan.grid, []
    for earlier in plans:
        own = [work for work in works_of(earlier) if work.id in done]
        left, where = earlier.began.copy(), np.zeros(first.shape, dtype=np.bool_)
        for work in own:
            left += -work.depth if work.kind == "grind" else work.depth
            where |= work.where
        height = np.where(where, left - first, height)
        every += own
    return Change(grid=grid, height=height.astype(np.int32), part=labels(tuple(every), grid=grid))


def less_sure_at_borders(seen: Observations, *, change: Change, began: Ints) -> Observations:
    """The readings, with larger standard deviations where the slab steps nearby: they may lie on either side.

    That the slab slopes the fit counts itself, so only what the changed slab varies by more than the slab
    before around a reading is added. `began` are the heights before, in storage steps on the change's grid.
    """
    before = replace(change, height=began, part=np.zeros_like(change.part))
    after = replace(change, height=began + change.height)
    sd = np.hypot(seen.position_sd_m, BORDER_SD_M)[:, None]
    more = np.maximum(_variance(seen, of=after, sd_m=sd) - _variance(seen, of=before, sd_m=sd), 0.0)
    return replace(seen, sd_m=np.round(np.sqrt(np.square(seen.sd_m) + more), 9))


def _variance(seen: Observations, *, of: Change, sd_m: Floats) -> Floats:
    """Of what the observations weigh, with each as a whole so far off its place, shape (n,), m²."""
    used = seen.weight.any(axis=0)  # of heights alone, the most there are, one place in three
    x, y, weight = seen.x_m[:, used], seen.y_m[:, used], seen.weight[:, used]
    mean, square = np.zeros(len(seen.value_m)), np.zeros(len(seen.value_m))
    for across, share_x in zip(_STOPS, _SHARES, strict=True):
        for up, share_y in zip(_STOPS, _SHARES, strict=True):
            value = (weight * changed_at(of, x_m=x + across * sd_m, y_m=y + up * sd_m)).sum(axis=1)
            mean += share_x * share_y * value
            square += share_x * share_y * np.square(value)
    return np.maximum(square - np.square(mean), 0.0)
