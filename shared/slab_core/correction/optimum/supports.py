"""Where a straightedge lies when its departure at a node is largest, for many nodes of one direction.

A line on supports p steps behind and q steps ahead passes (slope_p + slope_q) · p q / (p + q) over the node,
with slope the rise for each step away from the node. The factor grows with p and q, so the steepest support
of one side within reach tells what another of the other side can make at most; most need no closer look.
"""

from typing import Any

import numpy as np

from slab_core.numerics.kernel import kernel


@kernel
def _slopes(
    z: Any, j: int, i: int, dx: int, dy: int, steps: int, side: float, slope: Any, steepest: Any
) -> None:
    """Rise for each step to the nodes 1, 2, … `steps` away, and the greatest so far."""
    top = -np.inf
    for p in range(1, steps + 1):
        slope[p] = side * (z[j + p * dy, i + p * dx] - z[j, i]) / p
        top = max(top, slope[p])
        steepest[p] = top


@kernel
def _pairs(left: Any, right: Any, steepest: Any, back: int, ahead: int, reach: int, best: Any) -> None:
    """The best of all pairs of nodes no more than `reach` apart."""
    for p in range(1, min(back, reach - 1) + 1):
        most = min(ahead, reach - p)
        if most < 1 or (left[p] + steepest[most]) * (p * most / (p + most)) <= best[0]:
            continue
        for q in range(1, most + 1):
            line = (left[p] + right[q]) * (p * q / (p + q))
            if line > best[0]:
                best[0], best[1], best[2] = line, -p, q


@kernel
def _ends(
    near: Any,
    far: Any,
    steepest: Any,
    here: int,
    there: int,
    span: float,
    chord: bool,
    sign: float,
    best: Any,
) -> None:
    """The best with one end of the edge on a node of the near side and the other between two of the far."""
    for p in range(1, min(here, int(span)) + 1):
        end = span - p
        c = int(end)
        if end <= 0.0 or c + 1 > there:
            continue
        low = far[c] * c if c > 0 else 0.0
        slope = (low + (end - c) * (far[c + 1] * (c + 1) - low)) / end
        if (steepest[p] + slope) * (p * end / (p + end)) <= best[0]:
            continue
        for q in range(p if chord else 1, p + 1):
            line = (near[q] + slope) * (q * end / (q + end))
            if line > best[0]:
                best[0] = line
                best[1], best[2] = (-q, end) if sign > 0.0 else (-end, q)


@kernel
def supports(
    z: Any, free: Any, dx: int, dy: int, span: float, close: float, chord: bool, side: float, nodes: Any,
    least: Any,
) -> Any:  # fmt: skip
    """(departure, a, b) at each of the nodes (row, column), supports in steps from the node: shape (n, 3).

    Tries every pair that one position of the edge can rest on, with an end of the edge between two nodes
    where its length asks for it; `close` is how near to a whole number of steps counts as whole. Zeros
    where no departure exceeds that node's `least`.
    """
    ny, nx = z.shape
    found = np.zeros((len(nodes), 3))
    room = max(ny, nx) + 2
    left, right, steep_left, steep_right = np.empty(room), np.empty(room), np.empty(room), np.empty(room)
    best = np.zeros(3)
    m = int(np.floor(span + close))
    for n in range(len(nodes)):
        j, i = nodes[n, 0], nodes[n, 1]
        back, ahead = 0, 0
        while back <= m:
            y, x = j - (back + 1) * dy, i - (back + 1) * dx
            if not (0 <= y < ny and 0 <= x < nx and free[y, x]):
                break
            back += 1
        while ahead <= m and free[j + ahead * dy, i + ahead * dx]:
            ahead += 1
        if back == 0 or ahead == 0:
            continue
        _slopes(z, j, i, -dx, -dy, back, side, left, steep_left)
        _slopes(z, j, i, dx, dy, ahead, side, right, steep_right)
        best[0], best[1], best[2] = least[n], 0.0, 0.0
        whole = back + ahead <= span + close
        if not chord:
            _pairs(left, right, steep_right, back, ahead, back + ahead if whole else m, best)
        elif whole or span - m <= close:
            for p in range(back if whole else 1, min(back, m - 1) + 1):
                q = ahead if whole else m - p
                if q <= ahead:
                    line = (left[p] + right[q]) * (p * q / (p + q))
                    if line > best[0]:
                        best[0], best[1], best[2] = line, -p, q
        if not whole and span - m > close:
            _ends(left, right, steep_left, back, ahead, span, chord, 1.0, best)
            _ends(right, left, steep_right, ahead, back, span, chord, -1.0, best)
        if best[2] > 0.0:
            found[n, 0], found[n, 1], found[n, 2] = best[0], best[1], best[2]
    return found
