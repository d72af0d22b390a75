"""Where a straightedge lies when its departure at a node is largest, for many nodes of one direction."""

from typing import Any

import numpy as np

from slab_core.numerics.kernel import kernel, summing_kernel


@summing_kernel
def _most(slope: float, slopes: Any, weights: Any, count: int) -> float:
    """The highest line over a node on one left support and any of `count` right ones."""
    most = 0.0
    for k in range(count):
        line = (slope + slopes[k]) * weights[k]
        most = line if line > most else most
    return most


@kernel
def supports(
    z: Any, free: Any, dx: int, dy: int, span: float, close: float, chord: bool, side: float, nodes: Any
) -> Any:
    """(departure, a, b) at each of the nodes (row, column), supports in steps from the node: shape (n, 3).

    Tries every pair that one position of the edge can rest on, with an end of the edge between two nodes
    where its length asks for it; `close` is how near to a whole number of steps counts as whole.
    """
    ny, nx = z.shape
    found = np.zeros((len(nodes), 3))
    room = 2 * (max(ny, nx) + 2)
    run, slopes = np.empty(room), np.empty(room)
    m = int(np.floor(span + close))
    most_steps = min(m, max(ny, nx)) + 1
    weights = np.empty((most_steps + 1, most_steps + 1))
    for p in range(1, most_steps + 1):
        for q in range(1, most_steps + 1):
            weights[p, q] = p * q / (p + q)
    for n_th in range(len(nodes)):
        j, i = nodes[n_th, 0], nodes[n_th, 1]
        back, ahead = 0, 0
        while back <= m + 1:
            y, x = j - (back + 1) * dy, i - (back + 1) * dx
            if not (0 <= y < ny and 0 <= x < nx and free[y, x]):
                break
            back += 1
        while ahead <= m + 1 and free[j + ahead * dy, i + ahead * dx]:
            ahead += 1
        n = back + ahead + 1
        for k in range(n):
            run[k] = side * (z[j + (k - back) * dy, i + (k - back) * dx] - z[j, i])
        best, best_a, best_b = 0.0, 0.0, 0.0
        whole = n - 1 <= span + close
        if chord:
            for a in range(max(0, back - m), back):
                b = n - 1 if whole else a + m
                if (a > 0 and whole) or b <= back or b >= n or (not whole and span - m > close):
                    continue
                height = (run[a] * (b - back) + run[b] * (back - a)) / (b - a)
                if height > best:
                    best, best_a, best_b = height, a - back, b - back
        else:
            for q in range(1, min(m, ahead) + 1):
                slopes[q] = run[back + q] / q
            for p in range(1, min(m, back) + 1):
                count = min(ahead, m - p)
                slope = run[back - p] / p
                height = _most(slope, slopes[1 : count + 1], weights[p, 1 : count + 1], count)
                if height > best:
                    best, best_a = height, -p
            if best > 0.0:
                p, most = int(-best_a), 0.0
                for q in range(1, min(ahead, m - p) + 1):
                    line = (run[back - p] / p + slopes[q]) * weights[p, q]
                    if line > most:
                        most, best_b = line, q
        if not whole and span - m > close:
            for start in range(max(0, back - m - 1), back):
                e = start + span
                c = int(np.floor(e))
                if e <= back or c + 1 >= n:
                    continue
                end_height = run[c] + (e - c) * (run[c + 1] - run[c])
                for a in range(start, start + 1 if chord else back):
                    height = run[a] + (end_height - run[a]) * (back - a) / (e - a)
                    if height > best:
                        best, best_a, best_b = height, a - back, e - back
            for end in range(back + 1, min(n, back + m + 2)):
                e = end - span
                if e >= back or e < 0.0:
                    continue
                c = int(np.floor(e))
                end_height = run[c] + (e - c) * (run[c + 1] - run[c])
                for b in range(end if chord else back + 1, end + 1):
                    height = end_height + (run[b] - end_height) * (back - e) / (b - e)
                    if height > best:
                        best, best_a, best_b = height, e - back, b - back
        found[n_th, 0], found[n_th, 1], found[n_th, 2] = best, best_a, best_b
    return found
