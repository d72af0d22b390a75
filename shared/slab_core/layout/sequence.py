"""One stretch of a row as a sequence of boards: many at random, the least wasteful kept.

A board cut at a row's end leaves a piece with one whole end, a *starter*: its cut end goes to the wall
where a later row starts. A board cut where its row starts leaves an *ender*, for a row's end.
A stretch of one piece has no joint, so what is cut for it comes off the cut end of an offcut and the rest
stays what it was. Costs are metres of waste.
"""

import numpy as np

from slab_core.numerics.grid import Floats
from slab_core.numerics.kernel import inner_kernel, kernel

BOARD, STARTER, ENDER = 0, 1, 2
MOST_PIECES = 256
TOO_CLOSE = 5.0
"""A joint too close to another is as bad as five metres of waste."""

_STAIR = 0.2
KNOT = 0.03
"""Each pair of short pieces that touch counts as three centimetres of waste."""

_STAIR_NEAR_M = 0.05
_CUT = 0.01
_IDLE, _ALIKE, _ENDER = 0.05, 0.03, 0.08
_LOOKED_WELL = 25
"""After so many sequences one pair of short pieces is put up with, where else there is hardly better."""

_TRIMS = 4
_STARTER_FIRST = 0.6
_FITS = 1e-9
_TOUCH_M = 0.01


@inner_kernel
def joint_cost(u: float, near1: Floats, near2: Floats, stagger: float, apart: float) -> float:
    """Cost of a joint at `u`: within `stagger` of one in the last row (`near1`), within `apart` of one in
    the row before it (`near2`), and a little for the third step of a stair."""
    cost = 0.0
    for b in near2:
        if abs(u - b) < apart - _FITS:
            cost += TOO_CLOSE
    for a in near1:
        if abs(u - a) < stagger - _FITS:
            cost += TOO_CLOSE
        elif abs(u - a) < 2.0 * stagger:
            for b in near2:
                if abs(2.0 * a - u - b) < _STAIR_NEAR_M:
                    cost += _STAIR
    return cost


@inner_kernel
def touching(u: float, length: float, n: int, last: float, shorts: tuple[float, Floats, Floats]) -> int:
    """How many short pieces a short one at `u` touches: of the row before, and its neighbour behind, `last`
    long, unless it is the first (`n` of 0)."""
    short, starts, ends = shorts
    count = 1 if n > 0 and last < short else 0
    for k in range(starts.size):
        if starts[k] < u + length - _TOUCH_M and ends[k] > u + _TOUCH_M:
            count += 1
    return count


@inner_kernel
def _of_no_use(
    length: float, pieces: Floats, joints: tuple[Floats, Floats, float, float], starters: Floats
) -> float:
    """Cost of keeping a starter that cannot begin the next row, for its joint would come too close to one of
    this row's (`pieces`) or of the row before; or that is much like one that waits already."""
    near1, _, stagger, apart = joints
    u = 0.0
    for piece in pieces:
        u += piece
        if abs(u - length) < stagger:
            return _IDLE
    for a in near1:
        if abs(a - length) < apart:
            return _IDLE
    for other in starters:
        if abs(other - length) < stagger:
            return _ALIKE
    return 0.0


@inner_kernel
def _last(
    rest: float,
    pieces: Floats,
    joints: tuple[Floats, Floats, float, float],
    boards: tuple[Floats, Floats, Floats, Floats],
    cutting: tuple[float, float, float, float, float],
) -> tuple[int, int, float, float]:
    """Cheapest piece that ends the stretch: what, which, length, cost (infinite if none is long enough).

    An offcut kept for later rows costs `keep` and `keep_m` a metre; taking one gains as much.
    """
    kinds, left, starters, enders = boards
    least, kerf, exact, keep, keep_m = cutting
    first = pieces.size == 0
    what, which, best = -1, -1, np.inf
    for i in range(kinds.size):
        over = kinds[i] - rest
        if left[i] > 0 and over >= -_FITS:
            spare = over - kerf
            cost = 0.0
            if over > exact:
                cost = _CUT + (kerf + keep + keep_m * spare if spare >= least else over)
                if spare >= least and cost < best:
                    cost += _of_no_use(spare, pieces, joints, starters)
            if cost < best:
                what, which, best = BOARD, i, cost
    for code, pool in ((STARTER, starters), (ENDER, enders)):
        if code == ENDER or first:
            for i in range(pool.size):
                over = pool[i] - rest
                if over >= -_FITS:
                    cost = -keep - keep_m * pool[i]
                    if over > exact:
                        spare = over - kerf
                        again = first and spare >= least
                        cost += _CUT + (kerf + keep + keep_m * spare if again else over)
                    if cost < best:
                        what, which, best = code, i, cost
    return what, which, rest, best


@inner_kernel
def _option(
    o: int,
    boards: tuple[Floats, Floats, Floats, Floats],
    cutting: tuple[float, float, float, float, float],
    chance: Floats,
    first: bool,
) -> tuple[int, int, float, float]:
    """Option `o` for a piece that does not end the stretch: starters, whole boards, boards cut at
    their start. A length of 0 says that there is none at hand."""
    kinds, left, starters, _ = boards
    least, kerf, _, keep, keep_m = cutting
    heads = starters.size if first else 0
    if o < heads:
        return STARTER, o, starters[o], -keep - keep_m * starters[o]
    if o < heads + kinds.size:
        i = o - heads
        return BOARD, i, kinds[i] if left[i] > 0 else 0.0, 0.0
    i = int(chance[(o + 1) % chance.size] * kinds.size)
    use = least + chance[(o + 7) % chance.size] * (kinds[i] - least)
    spare = kinds[i] - use - kerf
    if left[i] < 1 or spare < 0:
        return BOARD, i, 0.0, 0.0
    return BOARD, i, use, _CUT + kerf + (keep + _ENDER + keep_m * spare if spare >= least else spare)


@inner_kernel
def _next(
    u: float,
    rest: float,
    draw: float,
    first: bool,
    boards: tuple[Floats, Floats, Floats, Floats],
    cutting: tuple[float, float, float, float, float],
    joints: tuple[Floats, Floats, float, float],
    chance: Floats,
) -> tuple[int, int, float, float]:
    """A piece after which the stretch goes on: the first at random whose joint is free, else the least
    bad. What, which, length, cost; the cost is infinite if no piece leaves room for another."""
    near1, near2, stagger, apart = joints
    heads = boards[2].size if first else 0
    options = heads + boards[0].size + (_TRIMS if first else 0)
    at = int(draw / _STARTER_FIRST * heads) if heads and draw < _STARTER_FIRST else int(draw * options)
    what, which, length, cost, least_bad = -1, -1, 0.0, np.inf, np.inf
    for t in range(options):
        w, i, use, extra = _option((at + t) % options, boards, cutting, chance, first)
        if use <= 0.0 or rest - use < cutting[0] - _FITS:
            continue
        bad = joint_cost(u + use, near1, near2, stagger, apart)
        if bad < least_bad:
            what, which, length, cost, least_bad = w, i, use, extra + bad, bad
            if bad == 0.0:
                break
    return what, which, length, cost


@kernel
def best_sequence(
    length: float,
    boards: tuple[Floats, Floats, Floats, Floats],
    cutting: tuple[float, float, float, float, float],
    joints: tuple[Floats, Floats, float, float],
    shorts: tuple[float, Floats, Floats],
    chances: Floats,
) -> tuple[float, Floats]:
    """The cheapest of `chances.shape[0]` random sequences that span `length`; all lengths in metres.

    `boards`: lengths in the pile, how many of each, lengths of starters and of enders. `cutting`: least
    piece, kerf, what needs no cut, and the cost of an offcut kept and of each metre of it. `joints`: of
    the row before and of the one before that, from the stretch's start, with their least distances. `shorts`:
    below which length a piece is short, and where those of the row before start and end. Result:
    cost (infinite if nothing fits) and (pieces, 3): what, which, length used.
    """
    best_cost, best = np.inf, np.zeros((0, 3))
    _, kerf, _, keep, keep_m = cutting
    # One cut, and an offcut of use kept for one taken: there is hardly better, while any is worth keeping.
    enough = _CUT + kerf + keep_m + (0.0 if boards[2].size else keep) if keep > 0.0 else -np.inf
    row = np.zeros((MOST_PIECES, 3))
    tries, steps = chances.shape
    kinds, counts, starters, enders = boards
    left = counts.copy()
    hand = (kinds, left, starters, enders)
    longest = max(kinds.max(), starters.max() if starters.size else 0.0, enders.max() if enders.size else 0.0)
    for k in range(tries):
        chance = chances[k]
        left[:] = counts
        u, cost, n, done = 0.0, 0.0, 0, False
        while not done and n < MOST_PIECES and cost < best_cost:
            piece = (-1, -1, 0.0, np.inf)
            if length - u < longest + _FITS:
                piece = _last(length - u, row[:n, 2], joints, hand, cutting)
            if piece[3] == np.inf or chance[(n + steps // 2) % steps] < 0.5:
                more = _next(u, length - u, chance[n % steps], n == 0, hand, cutting, joints, chance)
                if more[3] < TOO_CLOSE or piece[3] == np.inf:
                    piece, done = more, False
                else:
                    done = True
            else:
                done = True
            row[n, 0], row[n, 1], row[n, 2] = piece[0], piece[1], piece[2]
            if piece[0] == BOARD:
                left[piece[1]] -= 1
            cost += piece[3]
            if piece[2] < shorts[0]:
                cost += KNOT * touching(u, piece[2], n, row[n - 1, 2] if n else 0.0, shorts)
            u += piece[2]
            n += 1
        if done and cost < best_cost:
            best_cost, best = cost, row[:n].copy()
        if best_cost <= (enough if k < _LOOKED_WELL else enough + KNOT):
            break
    return best_cost, best
