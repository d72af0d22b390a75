"""The largest departure over all pairs of supports of an edge, worked out for many nodes side by side.

While an edge spans few steps this is faster than hulls: pairs need no order and no branch, so the vector
unit takes eight nodes at once. The slopes from a node to both sides are made once; a pair then costs one
sum, one product and two comparisons, and gives the gap and the rise together.
"""

import numpy as np

from slab_core.numerics.grid import Ints, Mask, Reals
from slab_core.numerics.kernel import kernel

MOST_STEPS = 36
"""Edges of more steps are left to hulls.py: the pairs grow with the square of the steps, hulls do not."""

WIDTH = 64
"""Nodes side by side."""

BLOCK = 8
"""Pairs that are worked out between two looks at the best so far."""

WHOLE = 1e-9
"""Spans this close to a whole number of samples count as whole."""


@kernel
def run_steps(free: Mask, dx: int, dy: int, back: Ints, ahead: Ints) -> int:
    """Fill in the free steps behind and ahead of every node; gives the steps of the longest run."""
    ny, nx = free.shape
    for j in range(ny - 1, -1, -1):
        for k in range(nx):
            i = nx - 1 - k if dx > 0 else k
            ahead[j, i] = ahead[j + dy, i + dx] + 1 if free[j, i] else 0
            back[j, i] = 0
    longest = 0
    for j in range(ny):
        for k in range(nx):
            i = k if dx > 0 else nx - 1 - k
            if free[j, i]:
                back[j + dy, i + dx] = back[j, i] + 1
            longest = max(longest, back[j, i] + ahead[j, i])
    return longest


@kernel
def _slopes(row: Reals, here: Reals, reach: Ints, steps: int, inverse: float, out: Reals) -> None:
    """Rise for each step from the nodes to others `steps` away; NaN where a wall is between."""
    for i in range(WIDTH):
        out[i] = (row[i] - here[i]) * inverse if steps <= reach[i] else np.nan


# A comparison with NaN is false, so a pair across a wall changes nothing. `best` holds the highest line over
# each node, then the lowest.


@kernel
def _one(a: Reals, b: Reals, w: Reals, best: Reals) -> None:
    weight = w[0]
    for i in range(WIDTH):
        line = (a[i] + b[i]) * weight
        high, low = best[i], best[WIDTH + i]
        best[i] = line if line > high else high
        best[WIDTH + i] = line if line < low else low


@kernel
def _eight(a: Reals, b: Reals, w: Reals, best: Reals) -> None:
    """One slope with a block of eight; written out, since the compiler keeps only this in registers."""
    w0, w1, w2, w3, w4, w5, w6, w7 = w[0], w[1], w[2], w[3], w[4], w[5], w[6], w[7]
    for i in range(WIDTH):
        s, high, low = a[i], best[i], best[WIDTH + i]
        line = (s + b[i]) * w0
        high, low = line if line > high else high, line if line < low else low
        line = (s + b[WIDTH + i]) * w1
        high, low = line if line > high else high, line if line < low else low
        line = (s + b[2 * WIDTH + i]) * w2
        high, low = line if line > high else high, line if line < low else low
        line = (s + b[3 * WIDTH + i]) * w3
        high, low = line if line > high else high, line if line < low else low
        line = (s + b[4 * WIDTH + i]) * w4
        high, low = line if line > high else high, line if line < low else low
        line = (s + b[5 * WIDTH + i]) * w5
        high, low = line if line > high else high, line if line < low else low
        line = (s + b[6 * WIDTH + i]) * w6
        high, low = line if line > high else high, line if line < low else low
        line = (s + b[7 * WIDTH + i]) * w7
        high, low = line if line > high else high, line if line < low else low
        best[i], best[WIDTH + i] = high, low


@kernel
def _end(a: Reals, b: Reals, c: Reals, w: Reals, best: Reals) -> None:
    wa, wb, wc = w[0], w[1], w[2]
    for i in range(WIDTH):
        line = a[i] * wa + b[i] * wb + c[i] * wc
        high, low = best[i], best[WIDTH + i]
        best[i] = line if line > high else high
        best[WIDTH + i] = line if line < low else low


@kernel
def _ends(
    near: Reals,
    far: Reals,
    most_near: int,
    most_far: int,
    m: int,
    part: float,
    weights: Reals,
    best: Reals,
) -> None:
    """Edges with one end on a sample of `near`, the other within a step of `far`.

    Only those of full length: a shorter one does no better than with its end on a sample to either side.
    """
    span = m + part
    for t in range(max(0, m - most_near), min(m, most_far)):
        v = m - t
        share = v / span
        weights[0], weights[1] = v * (t + part) / span, (1.0 - part) * t * share
        weights[2] = part * (t + 1) * share
        _end(near[v], far[t], far[t + 1], weights, best)


@kernel
def scan_pairs(
    padded: Reals,
    pad: int,
    dx: int,
    dy: int,
    span: float,
    back: Ints,
    ahead: Ints,
    gap: Reals,
    rise: Reals,
) -> None:
    """Raise `gap` and `rise`, shape (ny, nx), by all positions of an edge of `span` steps in one direction.

    Worked out in the precision of `padded`, which are the heights with `pad` columns before and at least
    `pad` + WIDTH behind, whatever is in them; `back` and `ahead` come from run_steps. A stretch shorter than
    the edge is tried with an edge as long.
    """
    ny, nx = gap.shape
    m = int(np.floor(span + WHOLE))
    part = span - m if span - m > WHOLE else 0.0
    if m < 1:
        return
    kind = padded.dtype
    inverse = np.zeros(m + 1, dtype=kind)
    for v in range(1, m + 1):
        inverse[v] = 1.0 / v
    before, after = np.zeros((m + 1, WIDTH), dtype=kind), np.zeros((m + 1, WIDTH), dtype=kind)
    flat = after.reshape(-1)
    best, weights = np.zeros(2 * WIDTH, dtype=kind), np.zeros(BLOCK, dtype=kind)
    reach_back, reach_ahead = np.zeros(WIDTH, dtype=np.int32), np.zeros(WIDTH, dtype=np.int32)
    for j in range(ny):
        for first in range(0, nx, WIDTH):
            wide = min(WIDTH, nx - first)
            most_back, most_ahead = 0, 0
            for i in range(WIDTH):
                inner = i < wide and back[j, first + i] > 0 and ahead[j, first + i] > 0
                reach_back[i] = min(m, back[j, first + i]) if inner else 0
                reach_ahead[i] = min(m, ahead[j, first + i]) if inner else 0
                most_back, most_ahead = max(most_back, reach_back[i]), max(most_ahead, reach_ahead[i])
            if most_back == 0:
                continue
            at = first + pad
            here = padded[j, at : at + WIDTH]
            for v in range(1, most_back + 1):
                row = padded[j - v * dy, at - v * dx : at - v * dx + WIDTH]
                _slopes(row, here, reach_back, v, inverse[v], before[v])
            for u in range(1, most_ahead + 1):
                row = padded[j + u * dy, at + u * dx : at + u * dx + WIDTH]
                _slopes(row, here, reach_ahead, u, inverse[u], after[u])
            best[:] = 0.0
            for v in range(1, min(most_back, m - 1) + 1):
                most = min(m - v, most_ahead)
                u = 1
                while u + BLOCK - 1 <= most:
                    for k in range(BLOCK):
                        weights[k] = (u + k) * v * inverse[u + k + v]
                    _eight(before[v], flat[u * WIDTH : (u + BLOCK) * WIDTH], weights, best)
                    u += BLOCK
                while u <= most:
                    weights[0] = u * v * inverse[u + v]
                    _one(before[v], after[u], weights, best)
                    u += 1
            if part > 0.0:
                _ends(before, after, most_back, most_ahead, m, part, weights, best)
                _ends(after, before, most_ahead, most_back, m, part, weights, best)
            for i in range(wide):
                gap[j, first + i] = max(gap[j, first + i], best[i])
                rise[j, first + i] = max(rise[j, first + i], -best[WIDTH + i])
