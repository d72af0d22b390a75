"""Compiled serial schedules with double justification, and a genetic search over them.

A project comes as a `Net` of arrays. Its demands are packed, several resources in one 64-bit word, each
field a guard bit wider than its capacity: a word of what is free less a word of demands keeps all its guard
bits exactly when every field suffices. An `order` is a permutation in which predecessors come first.
"""

import numpy as np
from numpy.typing import NDArray

from slab_core.numerics.kernel import kernel

Whole = NDArray[np.int64]
Marks = NDArray[np.uint64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

Side = tuple[Whole, Whole]
"""Predecessors or successors: where each activity's row begins (n + 1,), and all rows one after the other."""

Net = tuple[Whole, Whole, Whole, Whole, Side, Side]
"""Lengths (n,); packed demands (n, words); capacities with every guard bit set (words,); the guard bits
(words,); predecessors; successors."""

Population = tuple[Whole, Whole, Marks]
"""Orders (p, n), their makespans (p,), 0 where there is no order yet, and a mark of each schedule (p,)."""


@kernel
def _place(order: Whole, net: Net, side: Side, free: Whole, starts: Whole) -> int:
    """Starts of all activities, each placed as early as possible in the order given; returns the makespan.

    `side` holds what each one waits for. `free` (slots, words) holds the capacities in every row, and does
    so again afterwards.
    """
    lengths, packed, full, guards = net[0], net[1], net[2], net[3]
    pointers, others = side
    words = full.shape[0]
    makespan = 0
    for i in order:
        at = 0
        for p in range(pointers[i], pointers[i + 1]):
            at = max(at, starts[others[p]] + lengths[others[p]])
        length = lengths[i]
        run = 0
        if words == 1:
            need, guard = packed[i, 0], guards[0]
            while run < length:
                run = run + 1 if (free[at, 0] - need) & guard == guard else 0
                at += 1
        else:
            while run < length:
                run += 1
                for w in range(words):
                    if (free[at, w] - packed[i, w]) & guards[w] != guards[w]:
                        run = 0
                at += 1
        for t in range(at - length, at):
            for w in range(words):
                free[t, w] -= packed[i, w]
        starts[i] = at - length
        makespan = max(makespan, at)
    for t in range(makespan):
        for w in range(words):
            free[t, w] = full[w]
    return makespan


@kernel
def _sort(times: Whole, last: int, order: Whole, counts: Whole) -> None:
    """Sort `order` by times (0 to last); what has the same time keeps its order."""
    for t in range(last + 2):
        counts[t] = 0
    for time in times:
        counts[time + 1] += 1
    for t in range(last + 1):
        counts[t + 1] += counts[t]
    for i in order.copy():
        order[counts[times[i]]] = i
        counts[times[i]] += 1


@kernel
def _turned(order: Whole, lengths: Whole, starts: Whole, makespan: int, ends: Whole, counts: Whole) -> None:
    """Make `order` that of a schedule read backwards: what ends last comes first."""
    for i in range(lengths.shape[0]):
        ends[i] = makespan - starts[i] - lengths[i]
    order[:] = order[::-1].copy()
    _sort(ends, makespan, order, counts)


@kernel
def _justified(order: Whole, net: Net, free: Whole, work: Whole, starts: Whole) -> int:
    """Placed to the left, then to the right, then to the left again; `order` becomes that of the last starts.

    `work` (2, n + slots) is scratch. Returns the makespan, which no pass can make longer.
    """
    lengths, before, after = net[0], net[4], net[5]
    ends, counts = work[0, : lengths.shape[0]], work[1]
    makespan = _place(order, net, before, free, starts)
    _turned(order, lengths, starts, makespan, ends, counts)
    makespan = _place(order, net, after, free, starts)
    _turned(order, lengths, starts, makespan, ends, counts)
    makespan = _place(order, net, before, free, starts)
    _sort(starts, makespan, order, counts)
    return makespan


@kernel
def _random(state: Marks) -> float:
    """The next number of [0, 1): xorshift64*; state[0] is not zero."""
    x = state[0]
    x ^= x >> np.uint64(12)
    x ^= x << np.uint64(25)
    x ^= x >> np.uint64(27)
    state[0] = x
    return float((x * np.uint64(2685821657736338717)) >> np.uint64(11)) * (1.0 / 9007199254740992.0)


@kernel
def _waits(i: int, j: int, side: Side) -> bool:
    """Whether j is among what i directly waits for."""
    pointers, others = side
    for p in range(pointers[i], pointers[i + 1]):  # noqa: SIM110 - a generator does not compile
        if others[p] == j:
            return True
    return False


@kernel
def _crossed(one: Whole, other: Whole, child: Whole, used: Flags, state: Marks) -> None:
    """A child that keeps the order of `one`, but for a stretch that is what `other` puts next."""
    n = one.shape[0]
    used[:] = False
    width = int(n * (0.25 + 0.5 * _random(state)))
    first = int((n - width + 1) * _random(state))
    for position in range(first):
        child[position] = one[position]
        used[one[position]] = True
    filled = first
    for i in other:
        if filled < first + width and not used[i]:
            child[filled] = i
            used[i] = True
            filled += 1
    for i in one:
        if not used[i]:
            child[filled] = i
            filled += 1


@kernel
def _swapped(order: Whole, side: Side, chance: float, state: Marks) -> None:
    """Neighbours that do not wait for one another change places, each with a chance."""
    for position in range(order.shape[0] - 1):
        if _random(state) < chance and not _waits(order[position + 1], order[position], side):
            order[position], order[position + 1] = order[position + 1], order[position]


@kernel
def _mixed(order: Whole, side: Side, part: float, state: Marks) -> None:
    """In a stretch of about that part of the order each moves forward by chance, past what it need not wait
    for."""
    n = order.shape[0]
    size = max(2, int(n * part * (0.3 + _random(state))))
    first = int(max(1, n - size) * _random(state))
    for position in range(first + 1, min(n, first + size)):
        i = order[position]
        least = position
        while least > first and not _waits(i, order[least - 1], side):
            least -= 1
        to = least + int((position - least + 1) * _random(state))
        for q in range(position, to, -1):
            order[q] = order[q - 1]
        order[to] = i


@kernel
def _sampled(order: Whole, tails: Floats, shake: float, net: Net, waiting: Whole, state: Marks) -> None:
    """A random order: of what is free to go, the longest shaken tail first."""
    n = order.shape[0]
    before, (pointers, others) = net[4][0], net[5]
    keys = np.empty(n)
    for i in range(n):
        waiting[i] = before[i + 1] - before[i]
        keys[i] = tails[i] * (1.0 + shake * (2.0 * _random(state) - 1.0))
    for position in range(n):
        best = -1
        for i in range(n):
            if waiting[i] == 0 and (best < 0 or keys[i] > keys[best]):
                best = i
        order[position] = best
        waiting[best] = -1
        for p in range(pointers[best], pointers[best + 1]):
            waiting[others[p]] -= 1


@kernel
def _mark(starts: Whole) -> np.uint64:
    """A number that tells schedules apart, but for a rare chance: FNV-1a over the starts."""
    mark = np.uint64(1469598103934665603)
    for start in starts:
        mark = (mark ^ np.uint64(start)) * np.uint64(1099511628211)
    return mark


@kernel
def _one_of_two(spans: Whole, longer: bool, state: Marks) -> int:
    """The shorter, or the longer, of two at random."""
    one, other = int(spans.shape[0] * _random(state)), int(spans.shape[0] * _random(state))
    return one if (spans[one] <= spans[other]) != longer else other


@kernel
def _keep(starts: Whole, span: int, best: Whole, state: Marks) -> None:
    if span < state[1]:
        state[1] = span
        best[:] = starts


@kernel
def evolve(
    population: Population, born: int, tails: Floats, net: Net, best: Whole, state: Marks, mutation: Floats
) -> None:
    """Sample the orders that are not there yet, then breed `born` children.

    `mutation` holds the chance that a stretch is mixed, else the chance of neighbours to change places, and
    the stretch's part. `state` holds the state of chance and the makespan of `best` (n,), the starts of the
    shortest schedule so far. No two members are the same schedule.
    """
    lists, spans, marks = population
    many, n = lists.shape
    slots = net[0].sum() + 1
    free = np.empty((slots, net[2].shape[0]), dtype=np.int64)
    free[:] = net[2]
    work = np.empty((2, n + slots + 2), dtype=np.int64)
    starts, child, used = np.empty(n, np.int64), np.empty(n, np.int64), np.empty(n, np.bool_)
    for p in range(many):
        if spans[p] == 0:
            _sampled(child, tails, 0.05 + 0.9 * p / many, net, starts, state)
            spans[p] = _justified(child, net, free, work, starts)
            lists[p], marks[p] = child, _mark(starts)
            _keep(starts, spans[p], best, state)
    for _ in range(born):
        one, other = _one_of_two(spans, False, state), _one_of_two(spans, False, state)
        _crossed(lists[one], lists[other], child, used, state)
        if _random(state) < mutation[0]:
            _mixed(child, net[4], mutation[2], state)
        else:
            _swapped(child, net[4], mutation[1], state)
        span = _justified(child, net, free, work, starts)
        _keep(starts, span, best, state)
        loser, mark = _one_of_two(spans, True, state), _mark(starts)
        if span <= spans[loser] and not np.any(marks == mark):
            lists[loser] = child
            spans[loser] = span
            marks[loser] = mark
