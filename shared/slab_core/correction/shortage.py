"""What it costs not to know the bags: some are left over, or a day is lost because they ran out."""

import numpy as np
from scipy.special import ndtr

from slab_core.correction.unit_costs import UnitCosts

MOST_SPARE_SDS = 4.0
_SPARE_SDS = np.linspace(0.0, MOST_SPARE_SDS, 401)
_SHORT = ndtr(-_SPARE_SDS)
_LEFT_SDS = _SPARE_SDS * ndtr(_SPARE_SDS) + np.exp(-0.5 * _SPARE_SDS**2) / np.sqrt(2.0 * np.pi)
"""E max(0, spare - need) of a standard normal need: the normal loss function."""


def expected_loss(*, bags_sd: float, spare_bag: float, costs: UnitCosts) -> float:
    """Least expected cost, over the number of spare bags, of bags left over and of one more pour day.

    `spare_bag` is what a bag left over costs; a shortage costs a pour day whatever its size. The spare bags
    need not be whole, and never are fewer than none. Currency of `costs`.
    """
    return (
        float((spare_bag * bags_sd * _LEFT_SDS + costs.per_pour_day * _SHORT).min()) if bags_sd > 0 else 0.0
    )
