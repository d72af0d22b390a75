"""The highest line that edges of one length can form over a run of heights, at every position.

A run is n heights at unit spacing. The edge has the length `span` in units; its positions are all those
with an end on a sample, the other end interpolated. Every edge of a window's upper hull is an edge of
the hull of the window's part in one block, of its part in the next, or the bridge between the two
(blocks as in M. van Herk, "A fast algorithm for local minimum and maximum filters", 1992, from memory),
so hulls are only ever extended, and a bridge starts from the last one.
"""

import numpy as np

from slab_core.numerics.grid import Floats, Ints, Mask, Reals
from slab_core.numerics.kernel import kernel, summing_kernel

WHOLE = 1e-9
"""Spans this close to a whole number of samples count as whole."""

TIE = 1e-13
"""Metres times steps. Heights a run apart round to about 1e-14 of these."""


@summing_kernel
def _raise_to(part: Floats, first: float, slope: float) -> None:
    """Raise samples to a line that starts at `first` on the first of them."""
    for t in range(len(part)):
        # 32-bit counters become floats in the vector unit; 64-bit ones do not everywhere.
        line = first + slope * np.int32(t)
        part[t] = line if line > part[t] else part[t]


@summing_kernel
def lift(cover: Floats, a: float, za: float, b: float, zb: float) -> None:
    """Raise `cover` to the segment from (a, za) to (b, zb) at the samples strictly between."""
    first = int(np.floor(a)) + 1
    slope = (zb - za) / (b - a)
    _raise_to(cover[first : int(np.ceil(b))], za + slope * (first - a), slope)


@summing_kernel
def lift_between(cover: Floats, a: int, za: float, b: int, zb: float) -> None:
    """The same between two samples."""
    if b - a > 1:
        slope = (zb - za) / (b - a)
        _raise_to(cover[a + 1 : b], za + slope, slope)


@kernel
def _above(a: float, za: float, b: float, zb: float, x: float, z: float) -> bool:
    """Whether (x, z) lies above the line through two points, b > a."""
    return (z - za) * (b - a) > (zb - za) * (x - a)


@kernel
def _raises(a: float, za: float, b: float, zb: float, x: float, z: float) -> bool:
    """The same by more than rounding: 1e-13 m of height over one step."""
    return (z - za) * (b - a) - (zb - za) * (x - a) > TIE


@kernel
def whole_hull(z: Floats, n: int, stack: Ints, cover: Floats) -> None:
    """Raise `cover` to the upper hull of the whole run."""
    top = -1
    for j in range(n):
        while top > 0 and not _above(stack[top - 1], z[stack[top - 1]], j, z[j], stack[top], z[stack[top]]):
            top -= 1
        top += 1
        stack[top] = j
    for k in range(top):
        lift_between(cover, stack[k], z[stack[k]], stack[k + 1], z[stack[k + 1]])


@kernel
def sliding_hull(
    z: Floats, n: int, span: float, left: Ints, saved: Ints, tops: Ints, right: Ints, cover: Floats
) -> None:
    """Raise `cover` to the upper hulls of all positions of the edge.

    `left`, `saved`, `tops`, `right` are working space of at least n entries. A run shorter than the
    edge is covered by one edge as long as the run.
    """
    m = int(np.floor(span + WHOLE))
    part = span - m if span - m > WHOLE else 0.0
    if n - 1 <= span + WHOLE:
        whole_hull(z, n, left, cover)
        return
    if m < 1:
        return
    for start in range(0, n, m):
        end = min(start + m, n)
        # Suffix hulls of this block, right to left; each push remembers the entry it overwrote.
        top = -1
        for i in range(end - 1, start - 1, -1):
            tops[i] = top
            while top > 0 and not _above(i, z[i], left[top - 1], z[left[top - 1]], left[top], z[left[top]]):
                top -= 1
            top += 1
            saved[i] = left[top]
            left[top] = i
            if top > 0:
                lift_between(cover, i, z[i], left[top - 1], z[left[top - 1]])
        # Windows that begin in this block: the next block's prefix grows, this one's suffix shrinks.
        top_right = -1
        pa, pb = 0, 0
        last_a, last_b = -1, -1
        for i in range(start, end):
            j = i + m
            if j >= n:
                break
            while top_right > 0 and not _above(
                right[top_right - 1], z[right[top_right - 1]], j, z[j], right[top_right], z[right[top_right]]
            ):
                top_right -= 1
            top_right += 1
            right[top_right] = j
            if top_right > 0:
                lift_between(cover, right[top_right - 1], z[right[top_right - 1]], j, z[j])
            pa, pb = _bridge(z, left, top, right, top_right, min(pa, top), min(pb, top_right))
            if left[pa] != last_a or right[pb] != last_b:
                last_a, last_b = left[pa], right[pb]
                lift_between(cover, last_a, z[last_a], last_b, z[last_b])
            if part > 0.0 and j + 1 < n:
                _right_end(z, part, left, top, right, top_right, pa, pb, cover)
            if part > 0.0 and i > 0:
                _left_end(z, part, left, top, right, top_right, pa, pb, cover)
            left[top] = saved[i]
            top = tops[i]


@kernel
def _bridge(
    z: Floats, left: Ints, top_left: int, right: Ints, top_right: int, pa: int, pb: int
) -> tuple[int, int]:
    """Common tangent of two hulls, walked to from a guess.

    Each move raises the line between the blocks by more than rounding can undo, so no place comes twice;
    the count is a second guard, for heights so large that rounding could.
    """
    for _ in range(2 * (top_left + top_right) + 8):
        before_a, before_b = pa, pb
        a, b = left[pa], right[pb]
        while pa < top_left and _raises(a, z[a], b, z[b], left[pa + 1], z[left[pa + 1]]):
            pa += 1
            a = left[pa]
        while pa > 0 and _raises(a, z[a], b, z[b], left[pa - 1], z[left[pa - 1]]):
            pa -= 1
            a = left[pa]
        while pb < top_right and _raises(a, z[a], b, z[b], right[pb + 1], z[right[pb + 1]]):
            pb += 1
            b = right[pb]
        while pb > 0 and _raises(a, z[a], b, z[b], right[pb - 1], z[right[pb - 1]]):
            pb -= 1
            b = right[pb]
        if pa == before_a and pb == before_b:
            break
    return pa, pb


@kernel
def _right_end(
    z: Floats,
    part: float,
    left: Ints,
    top_left: int,
    right: Ints,
    top_right: int,
    pa: int,
    pb: int,
    cover: Floats,
) -> None:
    """The hull's last edge when the edge ends `part` of a cell beyond the window's last sample."""
    j = right[top_right]
    e, ze = j + part, z[j] + part * (z[j + 1] - z[j])
    v = j
    on_right, at = True, top_right
    while True:
        if on_right and at > pb:
            at -= 1
            w = right[at]
        elif on_right:
            on_right, at = False, pa
            w = left[at]
        elif at < top_left:
            at += 1
            w = left[at]
        else:
            break
        if _above(w, z[w], e, ze, v, z[v]):
            break
        v = w
    if e - v > 1.0:
        lift(cover, v, z[v], e, ze)


@kernel
def _left_end(
    z: Floats,
    part: float,
    left: Ints,
    top_left: int,
    right: Ints,
    top_right: int,
    pa: int,
    pb: int,
    cover: Floats,
) -> None:
    """The hull's first edge when the edge begins `part` of a cell before the window's first sample."""
    i = left[top_left]
    e, ze = i - part, z[i] + part * (z[i - 1] - z[i])
    v = i
    on_left, at = True, top_left
    while True:
        if on_left and at > pa:
            at -= 1
            w = left[at]
        elif on_left:
            on_left, at = False, pb
            w = right[at]
        elif at < top_right:
            at += 1
            w = right[at]
        else:
            break
        if _above(e, ze, w, z[w], v, z[v]):
            break
        v = w
    if v - e > 1.0:
        lift(cover, e, ze, v, z[v])


@kernel
def sliding_chord(z: Floats, n: int, span: float, cover: Floats) -> None:
    """Raise `cover` to the chords of all positions of an edge whose two ends touch the floor."""
    if n - 1 <= span + WHOLE:
        lift(cover, 0.0, z[0], n - 1.0, z[n - 1])
        return
    m = int(np.floor(span + WHOLE))
    part = span - m if span - m > WHOLE else 0.0
    for i in range(n - m):
        j = i + m
        if part == 0.0:
            if m > 1:
                lift(cover, i, z[i], j, z[j])
            continue
        if j + 1 < n:
            lift(cover, i, z[i], j + part, z[j] + part * (z[j + 1] - z[j]))
        if i > 0:
            lift(cover, i - part, z[i] + part * (z[i - 1] - z[i]), j, z[j])


@kernel
def scan_runs(
    z: Reals,
    free: Mask,
    dx: int,
    dy: int,
    span: float,
    chord: bool,
    both: bool,
    gap: Reals,
    rise: Reals,
) -> int:
    """Try every run of one direction; gives the steps of the longest run."""
    ny, nx = z.shape
    room = max(ny, nx) + 1
    run, cover = np.empty(room), np.empty(room)
    left, saved = np.zeros(room, dtype=np.int32), np.zeros(room, dtype=np.int32)
    tops, right = np.zeros(room, dtype=np.int32), np.zeros(room, dtype=np.int32)
    longest = 0
    for j in range(ny):
        for i in range(nx):
            if not free[j, i]:
                continue
            if j - dy >= 0 and 0 <= i - dx < nx and free[j - dy, i - dx]:
                continue
            # Heights from the run's own start: a datum far away would cost digits.
            n, y, x, base = 0, j, i, z[j, i]
            while True:
                run[n] = z[y, x] - base
                n += 1
                if not free[y, x]:
                    break
                y += dy
                x += dx
            longest = max(longest, n - 1)
            for side in range(2 if both else 1):
                if side == 1:
                    for k in range(n):
                        run[k] = -run[k]
                for k in range(n):
                    cover[k] = run[k]
                if chord:
                    sliding_chord(run, n, span, cover)
                else:
                    sliding_hull(run, n, span, left, saved, tops, right, cover)
                out = gap if side == 0 else rise
                for k in range(n):
                    y, x = j + k * dy, i + k * dx
                    out[y, x] = max(out[y, x], cover[k] - run[k])
    return longest
