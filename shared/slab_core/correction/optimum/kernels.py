"""Compiled loops of the unrestricted optimum: what changes cost, and the bound that multipliers prove."""

from typing import Any

import numpy as np

from slab_core.numerics.kernel import kernel


@kernel
def _price(x: float, breaks: Any, per: Any) -> Any:
    total, low = 0.0, 0.0
    for k in range(len(per)):
        if k == len(breaks) or x <= breaks[k]:
            return total + per[k] * (x - low)
        total += per[k] * (breaks[k] - low)
        low = breaks[k]
    return total


@kernel
def cost_of(x: Any, up: Any, down: Any, up_breaks: Any, up_per: Any, down_breaks: Any, down_per: Any) -> Any:
    """Σ price_j(x_j): `up` times the price of x > 0, `down` times that of -x > 0."""
    total = 0.0
    for j in range(len(x)):
        if x[j] > 0.0:
            total += up[j] * _price(x[j], up_breaks, up_per)
        elif x[j] < 0.0:
            total += down[j] * _price(-x[j], down_breaks, down_per)
    return total


@kernel
def least_of_columns(
    pull: Any, low: Any, high: Any, up: Any, down: Any, up_breaks: Any, up_per: Any, down_breaks: Any,
    down_per: Any,
) -> Any:  # fmt: skip
    """Σ of the least of price_j(x) + pull_j · x over low_j <= x <= high_j: convex, so a corner is enough."""
    total = 0.0
    for j in range(len(pull)):
        best = np.inf
        for side in range(2):
            count = len(up_breaks) if side == 0 else len(down_breaks)
            for k in range(count + 2):
                if k == count + 1:
                    x = 0.0
                elif k == count:
                    x = high[j] if side == 0 else low[j]
                else:
                    x = up_breaks[k] if side == 0 else -down_breaks[k]
                x = min(max(x, low[j]), high[j])
                value = pull[j] * x
                if x > 0.0:
                    value += up[j] * _price(x, up_breaks, up_per)
                elif x < 0.0:
                    value += down[j] * _price(-x, down_breaks, down_per)
                best = min(best, value)
        total += best
    return total


@kernel
def pulls(column: Any, weight: Any, y: Any, count: int) -> Any:
    """Aᵀ y of rows of entries (column, weight)."""
    out = np.zeros(count)
    for r in range(len(y)):
        if y[r] != 0.0:
            for q in range(column.shape[1]):
                out[column[r, q]] += weight[r, q] * y[r]
    return out
