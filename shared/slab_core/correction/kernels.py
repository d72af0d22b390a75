"""Compiled loops over the nodes: the relaxed cost with its gradient, and the work of one plane."""

from typing import Any

import numpy as np

from slab_core.numerics.kernel import kernel

LEFT, FILL, GRIND, UNKNOWN = 0, 1, 2, 3
FLAT_MM = 0.005
"""Half a storage step: less than this is no work."""


@kernel
def stepped(t: float, breaks: Any, factors: Any) -> Any:
    """(depth weighted by the factor of each of its slices, factor of the last slice); beyond the last
    break its factor holds."""
    weighted, low, k = 0.0, 0.0, 0
    last = len(factors) - 1
    while k < last and t > breaks[k]:
        weighted += factors[k] * (breaks[k] - low)
        low = breaks[k]
        k += 1
    return weighted + factors[k] * (t - low), factors[k]


@kernel
def relaxed_cost(
    u: Any, v: Any, z: Any, abc: Any, kind: Any, fill_base: Any, fill_slope: Any, grind_weight: Any,
    skin: float, least: float, hinge: Any, breaks: Any, factors: Any,
) -> Any:  # fmt: skip
    """Convex cost nowhere above the true one, and its gradient in (a, b, c): shape (4,).

    d = plane - z. Nodes that may be left (kind LEFT) pay fill_slope · (d - skin)+ or, below, grind_weight ·
    the largest of hinge[:, 0] · t + hinge[:, 1] and 0 at t = -d. Nodes surely filled pay fill_base +
    fill_slope · max(d, least) and the key where d < least; nodes surely ground pay their stepped depth.
    """
    out = np.zeros(4)
    for n in range(len(z)):
        d = abc[0] + abc[1] * u[n] + abc[2] * v[n] - z[n]
        cost, g = 0.0, 0.0
        if kind[n] == FILL:
            cost = fill_base[n] + fill_slope[n] * max(d, least)
            g = fill_slope[n] if d >= least else 0.0
            if d < least:
                weighted, factor = stepped(least - d, breaks, factors)
                cost += grind_weight[n] * weighted
                g -= grind_weight[n] * factor
        elif kind[n] == GRIND:
            weighted, factor = stepped(-d, breaks, factors)
            cost, g = grind_weight[n] * weighted, -grind_weight[n] * factor
        elif d > skin:
            cost, g = fill_slope[n] * (d - skin), fill_slope[n]
        elif d < -skin:
            best, pitch = 0.0, 0.0
            for k in range(hinge.shape[0]):
                value = hinge[k, 1] - hinge[k, 0] * d
                if value > best:
                    best, pitch = value, hinge[k, 0]
            cost, g = grind_weight[n] * best, -grind_weight[n] * pitch
        out[0] += cost
        out[1] += g
        out[2] += g * u[n]
        out[3] += g * v[n]
    return out


@kernel
def extremes(u: Any, v: Any, z: Any, grind: Any, fill: Any, abc: Any) -> Any:
    """Nodes where plane - z is farthest beyond -grind, and beyond fill, or least within."""
    low, high = 0, 0
    most_low, most_high = -1e300, -1e300
    for n in range(len(z)):
        d = abc[0] + abc[1] * u[n] + abc[2] * v[n] - z[n]
        if -d - grind[n] > most_low:
            low, most_low = n, -d - grind[n]
        if d - fill[n] > most_high:
            high, most_high = n, d - fill[n]
    return low, high


@kernel
def classify(d: Any, place: Any, index: Any, held: Any, nx: int, skin: float) -> Any:
    """What is done at each node: LEFT, FILL or GRIND.

    A connected patch (four neighbours, one sign of d) no deeper than `skin` anywhere is left as it is,
    unless a held node lies in it. `place` maps grid positions to nodes (-1 outside), `index` back.
    """
    count = len(d)
    state = np.empty(count, dtype=np.int8)
    for n in range(count):
        sign = FILL if d[n] > 0 else GRIND
        if abs(d[n]) < FLAT_MM:
            state[n] = LEFT
        else:
            state[n] = sign if held[n] or abs(d[n]) > skin else UNKNOWN
    stack = np.empty(count, dtype=np.int32)
    for seed in range(count):
        if state[seed] == UNKNOWN:
            _flood(d, state, place, index, nx, seed, stack)
    return state


@kernel
def _flood(d: Any, state: Any, place: Any, index: Any, nx: int, seed: int, stack: Any) -> None:
    """Settle the shallow patch around `seed`: done if it touches work of its own sign, else left."""
    kind = FILL if d[seed] > 0 else GRIND
    state[seed] = LEFT
    stack[0] = seed
    done, top, joined = 0, 1, False
    while done < top:
        at = index[stack[done]]
        done += 1
        for k in range(4):
            if (k == 0 and at % nx == 0) or (k == 1 and at % nx == nx - 1):
                continue
            to = at + (-1 if k == 0 else 1 if k == 1 else -nx if k == 2 else nx)
            if to < 0 or to >= len(place) or place[to] < 0:
                continue
            m = place[to]
            if state[m] == kind:
                joined = True
            elif state[m] == UNKNOWN and (d[m] > 0) == (kind == FILL):
                state[m] = LEFT
                stack[top] = m
                top += 1
    if joined:
        for k in range(top):
            state[stack[k]] = kind


@kernel
def add_up(
    d: Any, state: Any, area: Any, wall: Any, hand: Any, bay: Any, least: float, lift: float, upper: float,
    slack: float, bays: int, lifts: int, breaks: Any, factors: Any,
) -> Any:  # fmt: skip
    """Work of depths d (mm) by bay and lift: ((bays, lifts, 2) volume and area, totals).

    Fill thinner than `least` gets a key ground in under it. Lift 0 is the top one; a bay that is nowhere
    deeper than `lift` has no other, else all but the lowest over a node are `upper` thick, as lifts.py has
    it. Totals: filled area, wall along it, weighted grinding by machine and by hand (m²·mm), greatest fill,
    greatest grind.
    """
    pours = np.zeros((bays, lifts, 2))
    deepest = np.zeros(bays)
    for n in range(len(d)):
        if lifts > 1 and state[n] == FILL:
            deepest[bay[n]] = max(deepest[bay[n]], max(d[n], least))
    total = np.zeros(6)
    for n in range(len(d)):
        if state[n] == LEFT:
            continue
        t = -d[n]
        if state[n] == FILL:
            f = max(d[n], least)
            t = f - d[n]
            total[0] += area[n]
            total[1] += wall[n]
            total[4] = max(total[4], f)
            k = 0
            last = lifts - 1 if deepest[bay[n]] > lift + slack else 0
            while k < last and f > upper + least + slack:
                pours[bay[n], k, 0] += area[n] * upper
                pours[bay[n], k, 1] += area[n]
                f -= upper
                k += 1
            if f > 0.0:
                pours[bay[n], k, 0] += area[n] * f
                pours[bay[n], k, 1] += area[n]
        if t > 0.0:
            total[5] = max(total[5], t)
            weighted, _ = stepped(t, breaks, factors)
            total[2] += area[n] * (1.0 - hand[n]) * weighted
            total[3] += area[n] * hand[n] * weighted
    return pours, total
