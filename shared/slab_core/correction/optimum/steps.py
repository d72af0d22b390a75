"""Compiled steps of the unrestricted optimum: a primal-dual method for a sparse linear programme whose
columns have convex prices.

min Σ price_j(x_j) over low <= x <= high with A x <= limit. Halpern's iteration on the reflected step of
the primal-dual hybrid gradient method, restarted as its fixed-point residual falls (H. Lu, J. Yang,
"Restarted Halpern PDHG for linear programming", 2024, from memory), with diagonal steps (T. Pock,
A. Chambolle, 2011, from memory). It keeps no factors, its answers are no vertices, and it starts from any
guess: so rows that arrive later hardly disturb it.

Each row is read once for a step: Aᵀ y is carried along as x and y are, since both are mixed alike. All is in
32 bits, good to some 1e-6 mm of a change; violation, cost and bound are worked out apart in 64.
"""

from typing import Any

import numpy as np

from slab_core.numerics.kernel import summing_kernel

ZERO, ONE, TWO = np.float32(0.0), np.float32(1.0), np.float32(2.0)


@summing_kernel
def _depths(v: Any, scale: Any, breaks: Any, per: Any, out: Any) -> None:
    """The depths >= 0 that minimise scale · price(depth) + (depth - v)²/2: over the slices, the greatest of
    what each would give, no deeper than its end."""
    out[:] = ZERO
    last = len(per) - 1
    for k in range(last):
        for j in range(len(v)):
            out[j] = max(out[j], min(v[j] - scale[j] * per[k], breaks[k]))
    for j in range(len(v)):
        out[j] = max(out[j], v[j] - scale[j] * per[last])


@summing_kernel
def iterate(
    column: Any, weight: Any, limit: Any, low: Any, high: Any, up: Any, down: Any, up_breaks: Any,
    up_per: Any, down_breaks: Any, down_per: Any, pace: Any, x: Any, y: Any, omega: Any, steps: int,
) -> Any:  # fmt: skip
    """`steps` steps from (x, y), which are used up: the last step's (x, y).

    Rows have five entries (column, weight). `omega` weighs heights against multipliers: the greater, the
    smaller the steps of the heights. `pace` is the share of a step that each column may take; a row's own
    is 1/2, because the weights of a row sum to 2 in size.
    """
    n, m = len(x), len(y)
    x0, y0, to_x, to_y, ahead = x.copy(), y.copy(), x.copy(), y.copy(), x.copy()
    risen, fallen, for_up, for_down = x.copy(), x.copy(), x.copy(), x.copy()
    pull = np.zeros(n, dtype=np.float32)
    for r in range(m):
        for q in range(5):
            pull[column[r, q]] += weight[r, q] * y[r]
    pull0, to_pull = pull.copy(), pull.copy()
    sigma, inverse = np.float32(0.5) * omega, ONE / omega
    k, first, last = 0, ZERO, np.float32(np.inf)
    for done in range(steps):
        for j in range(n):
            tau = pace[j] * inverse
            v = x[j] - tau * pull[j]
            risen[j], fallen[j] = v, -v
            for_up[j], for_down[j] = tau * up[j], tau * down[j]
        _depths(risen, for_up, up_breaks, up_per, to_x)
        _depths(fallen, for_down, down_breaks, down_per, ahead)
        moved_x = ZERO
        for j in range(n):
            v = min(max(to_x[j] - ahead[j], low[j]), high[j])
            step = v - x[j]
            moved_x += step * step / pace[j]
            to_x[j], ahead[j], to_pull[j] = v, v + step, ZERO
        share = np.float32((k + 1.0) / (k + 2.0))
        rest, twice = ONE - share, TWO * share
        moved_y = ZERO
        for r in range(m):
            c0, c1, c2, c3, c4 = column[r, 0], column[r, 1], column[r, 2], column[r, 3], column[r, 4]
            w0, w1, w2, w3, w4 = weight[r, 0], weight[r, 1], weight[r, 2], weight[r, 3], weight[r, 4]
            over = (
                w0 * ahead[c0] + w1 * ahead[c1] + w2 * ahead[c2] + w3 * ahead[c3] + w4 * ahead[c4] - limit[r]
            )
            v = max(ZERO, y[r] + sigma * over)
            step = v - y[r]
            moved_y += step * step
            to_y[r] = v
            y[r] = twice * v - share * y[r] + rest * y0[r]
            if v > ZERO:
                to_pull[c0] += w0 * v
                to_pull[c1] += w1 * v
                to_pull[c2] += w2 * v
                to_pull[c3] += w3 * v
                to_pull[c4] += w4 * v
        crossed = ZERO
        for j in range(n):
            crossed += (to_pull[j] - pull[j]) * (to_x[j] - x[j])
        moved = np.sqrt(max(ZERO, omega * moved_x + moved_y / sigma - TWO * crossed))
        if k == 0:
            first = moved
        falls = moved <= np.float32(0.2) * first or (moved <= np.float32(0.8) * first and moved > last)
        last = moved
        if k > 0 and (falls or (k > 20 and k >= 0.36 * (done + 1))):
            x0[:], x[:], y0[:], y[:], pull0[:], pull[:] = to_x, to_x, to_y, to_y, to_pull, to_pull
            k, last = 0, np.float32(np.inf)
        else:
            for j in range(n):
                x[j] = share * ahead[j] + rest * x0[j]
                pull[j] = twice * to_pull[j] - share * pull[j] + rest * pull0[j]
            k += 1
    return to_x, to_y
