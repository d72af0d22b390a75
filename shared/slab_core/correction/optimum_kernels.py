"""Compiled loops of the unrestricted optimum: a primal-dual method for a sparse linear programme whose
columns have convex prices, and its bound.

min Σ price_j(x_j) over low <= x <= high with A x <= limit. Halpern's iteration on the reflected step of
the primal-dual hybrid gradient method, restarted as its fixed-point residual falls (H. Lu, J. Yang,
"Restarted Halpern PDHG for linear programming", 2024, from memory), with diagonal steps (T. Pock,
A. Chambolle, 2011, from memory). It keeps no factors, its answers are no vertices, and it starts from any
guess: so rows that arrive later hardly disturb it.
"""

from typing import Any

import numpy as np

from slab_core.numerics.kernel import kernel


@kernel
def columns_of(start: Any, column: Any, weight: Any, count: int) -> Any:
    """The rows' entries (start, column, weight) by column: (start, row, weight)."""
    first = np.zeros(count + 1, dtype=np.int32)
    for q in range(len(column)):
        first[column[q] + 1] += 1
    for j in range(count):
        first[j + 1] += first[j]
    row, value = np.empty(len(column), dtype=np.int32), np.empty(len(column))
    at = first[:-1].copy()
    for r in range(len(start) - 1):
        for q in range(start[r], start[r + 1]):
            j = column[q]
            row[at[j]], value[at[j]] = r, weight[q]
            at[j] += 1
    return first, row, value


@kernel
def _nearest(v: float, scale: float, breaks: Any, per: Any) -> Any:
    """The x >= 0 that minimises scale · price(x) + (x - v)²/2."""
    low = 0.0
    for k in range(len(per)):
        x = v - scale * per[k]
        if x <= low:
            return low
        if k == len(breaks) or x <= breaks[k]:
            return x
        low = breaks[k]
    return low


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
def pulls(start: Any, column: Any, weight: Any, y: Any, count: int) -> Any:
    """Aᵀ y."""
    out = np.zeros(count)
    for r in range(len(y)):
        if y[r] != 0.0:
            for q in range(start[r], start[r + 1]):
                out[column[q]] += weight[q] * y[r]
    return out


@kernel
def iterate(
    start: Any, column: Any, weight: Any, by_column: Any, row: Any, value: Any, limit: Any, low: Any,
    high: Any, up: Any, down: Any, up_breaks: Any, up_per: Any, down_breaks: Any, down_per: Any, x: Any,
    y: Any, omega: float, pace: Any, steps: int,
) -> Any:  # fmt: skip
    """`steps` steps from (x, y), which are used up: the last step's (x, y) and the last weight omega.

    `pace` is the share of a primal step that each column may take; a row's own is 1/2, because the
    weights of a row sum to 2 in size.
    """
    n, m = len(x), len(y)
    x0, y0, to_x, to_y = x.copy(), y.copy(), x.copy(), y.copy()
    k, first, last = 0, 0.0, np.inf
    for done in range(steps):
        moved = 0.0
        for j in range(n):
            pull = 0.0
            for q in range(by_column[j], by_column[j + 1]):
                pull += value[q] * y[row[q]]
            tau = pace[j] / omega
            v = x[j] - tau * pull
            if v > 0.0:
                v = _nearest(v, tau * up[j], up_breaks, up_per)
            else:
                v = -_nearest(-v, tau * down[j], down_breaks, down_per)
            v = min(max(v, low[j]), high[j])
            to_x[j] = v
            moved += omega * (v - x[j]) ** 2 / pace[j]
        for r in range(m):
            total, change = 0.0, 0.0
            for q in range(start[r], start[r + 1]):
                step = to_x[column[q]] - x[column[q]]
                change += weight[q] * step
                total += weight[q] * (to_x[column[q]] + step)
            v = max(0.0, y[r] + 0.5 * omega * (total - limit[r]))
            step = v - y[r]
            to_y[r] = v
            moved += step * (step / (0.5 * omega) - 2.0 * change)
        moved = np.sqrt(max(moved, 0.0))
        if k == 0:
            first = moved
        falls = moved <= 0.2 * first or (moved <= 0.8 * first and moved > last)
        last = moved
        if k > 0 and (falls or (k > 20 and k >= 0.36 * (done + 1))):
            dx, dy = 0.0, 0.0
            for j in range(n):
                dx += (to_x[j] - x0[j]) ** 2
            for r in range(m):
                dy += (to_y[r] - y0[r]) ** 2
            if dx > 1e-20 and dy > 1e-20:
                omega = np.sqrt(omega * np.sqrt(dy / dx))
            x0[:], y0[:], x[:], y[:] = to_x, to_y, to_x, to_y
            k, last = 0, np.inf
        else:
            share = (k + 1.0) / (k + 2.0)
            for j in range(n):
                x[j] = share * (2.0 * to_x[j] - x[j]) + (1.0 - share) * x0[j]
            for r in range(m):
                y[r] = share * (2.0 * to_y[r] - y[r]) + (1.0 - share) * y0[r]
            k += 1
    return to_x, to_y, omega
