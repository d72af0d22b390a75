"""The compiled search of branching.py. Sets of activities are bits of a word; no start is -1."""

import numpy as np
from numpy.typing import NDArray

from slab_core.numerics.kernel import inner_kernel, kernel

Whole = NDArray[np.int64]
Sets = NDArray[np.uint64]

Problem = tuple[Whole, Whole, Whole, Whole, Sets, Sets, Whole, Whole]
"""Lengths (n,), demands (n, k), capacities (k,), tails (n,) with the own length in them, predecessors as sets
(n,) and what may not overlap (n,), and two orders (n,): in which the bound takes activities of which no two
go together, and by what follows them, the longest first."""

Memory = tuple[Sets, Whole, NDArray[np.int32]]
"""Sets of begun activities (m,), counted on by one, 0 where none; the time and the level (m, 2); the
activities' ends (m, n)."""

Stack = tuple[Whole, Sets, Whole, Sets, Whole]
"""By level: starts (d, n); begun and in progress (d, 2); its place in the memory, next and end in the pool,
and the time (d, 4).
The pool of sets that may wait (p,) and their bounds (p,)."""

OVER, GOES_ON, GAVE_UP = 0, 1, 2
PROBES = 8
FAR = 1 << 60


@inner_kernel
def _has(members: np.uint64, i: int) -> bool:
    return bool((members >> np.uint64(i)) & np.uint64(1))


@inner_kernel
def _bit(i: int) -> np.uint64:
    return np.uint64(1) << np.uint64(i)


@kernel
def explore(problem: Problem, memory: Memory, stack: Stack, best: Whole, state: Whole, nodes: int) -> int:
    """Go on for so many nodes. `state` is the level (-1 at the beginning), the least makespan known, and how
    many nodes there were; whether the search is OVER, GOES_ON, or GAVE_UP for want of room."""
    starts, sets, marks, pool, bounds = stack
    depth = starts.shape[0]
    until = state[2] + nodes
    now = starts[depth - 1]  # the last row is what is being worked on
    if state[0] < 0:
        now[:] = -1
        begun = working = np.uint64(0)
        time = 0
        state[0] = 0
        found = _go_on(problem, memory, stack, best, state, begun, working, time)
        if found == GAVE_UP:
            return GAVE_UP
    while state[0] > 0:
        if state[2] >= until:
            return GOES_ON
        level = state[0] - 1
        at = marks[level, 1]
        if at >= marks[level, 2] or bounds[at] >= state[1]:
            state[0] = level
            continue
        marks[level, 1] += 1
        state[2] += 1
        now[:] = starts[level]
        begun, working = sets[level, 0], sets[level, 1]
        late = pool[at]
        for i in range(now.shape[0]):
            if _has(late, i):
                now[i] = -1
        if (
            _go_on(problem, memory, stack, best, state, begun & ~late, working & ~late, marks[level, 3])
            == GAVE_UP
        ):
            return GAVE_UP
    return OVER


@kernel
def _go_on(
    problem: Problem,
    memory: Memory,
    stack: Stack,
    best: Whole,
    state: Whole,
    begun: np.uint64,
    working: np.uint64,
    time: int,
) -> int:
    """From a partial schedule to the next time where not all can go on, which becomes a level with the ways
    out of it; or to its end, which is kept when it is better."""
    lengths, demands, capacities, tails, before = problem[:5]
    starts, sets, marks, pool, bounds = stack
    n, depth = lengths.shape[0], starts.shape[0]
    now = starts[depth - 1]
    full = np.uint64(0)
    for i in range(n):
        full |= _bit(i)
    while True:
        if working != 0:
            time = _first_end(now, lengths, working)
        for i in range(n):
            if _has(working, i) and now[i] + lengths[i] <= time:
                working &= ~_bit(i)
        ended = begun & ~working
        fresh = np.uint64(0)
        for i in range(n):
            if not _has(begun, i) and before[i] & ~ended == 0:
                fresh |= _bit(i)
                if time + tails[i] >= state[1]:
                    return GOES_ON
        if fresh == 0 and begun != full:
            continue
        known = begun
        for i in range(n):
            if _has(fresh, i):
                now[i] = time
        begun |= fresh
        working |= fresh
        if begun == full and _fits(demands, capacities, working):
            end = 0
            for i in range(n):
                end = max(end, now[i] + lengths[i])
            if end < state[1]:
                state[1] = end
                best[:] = now
            return GOES_ON
        if not _fits(demands, capacities, working):
            place = _place(memory, marks, state[0], known, time, now, lengths)
            if place < 0:
                return GOES_ON
            break
    level = state[0]
    if level >= depth - 1:
        return GAVE_UP
    begin = marks[level - 1, 2] if level > 0 else 0
    end = _ways(problem, now, begun, working, time, state[1], pool, bounds, begin)
    if end < 0:
        return GAVE_UP
    if end > begin:
        starts[level] = now
        sets[level, 0], sets[level, 1] = begun, working
        marks[level, 0], marks[level, 1], marks[level, 2], marks[level, 3] = place, begin, end, time
        state[0] = level + 1
    return GOES_ON


@kernel
def _first_end(now: Whole, lengths: Whole, members: np.uint64) -> int:
    first = FAR
    for i in range(len(now)):
        if _has(members, i):
            first = min(first, now[i] + lengths[i])
    return first


@kernel
def _fits(demands: Whole, capacities: Whole, members: np.uint64) -> bool:
    for k in range(capacities.shape[0]):
        used = 0
        for i in range(demands.shape[0]):
            if _has(members, i):
                used += demands[i, k]
        if used > capacities[k]:
            return False
    return True


@kernel
def _place(
    memory: Memory, marks: Whole, level: int, known: np.uint64, time: int, now: Whole, lengths: Whole
) -> int:
    """Where a state is remembered; -1 where the same activities were begun elsewhere no later and with no
    later ends. What is still being explored, level by level, does not count: this state is a part of it."""
    keys, times, ends = memory
    size = keys.shape[0]
    mixed = (known + np.uint64(1)) * np.uint64(0x9E3779B97F4A7C15)
    first = np.int64(mixed >> np.uint64(40)) % size
    free = -1
    for probe in range(PROBES):
        at = (first + probe) % size
        if keys[at] == 0:
            free = at
            break
        if keys[at] != known + np.uint64(1):
            continue
        above = times[at, 1] < level and marks[times[at, 1], 0] == at
        no_later, no_sooner = times[at, 0] <= time and not above, times[at, 0] >= time
        for i in range(len(now)):
            if _has(known, i):
                end = now[i] + lengths[i]
                no_later &= ends[at, i] <= max(time, end)
                no_sooner &= ends[at, i] >= end or (ends[at, i] <= times[at, 0] and end <= time)
        if no_later:
            return -1
        if no_sooner:
            free = at
            break
    if free < 0:
        free = (first + np.int64(mixed & np.uint64(PROBES - 1))) % size
    keys[free] = known + np.uint64(1)
    times[free, 0], times[free, 1] = time, level
    for i in range(len(now)):
        if _has(known, i):
            ends[free, i] = now[i] + lengths[i]
    return free


@kernel
def _ways(
    problem: Problem,
    now: Whole,
    begun: np.uint64,
    working: np.uint64,
    time: int,
    makespan: int,
    pool: Sets,
    bounds: Whole,
    begin: int,
) -> int:
    """Into the pool, the sets of activities that may wait so that the others fit and none need not wait, by
    their bounds; the end of them there, or -1 for want of room. Left out are those that are too long, and
    those after which what begins now could have begun sooner."""
    lengths, demands, capacities = problem[:3]
    n = lengths.shape[0]
    members = np.zeros(n, dtype=np.int64)
    count = 0
    for i in range(n):
        if _has(working, i):
            members[count] = i
            count += 1
    used = np.zeros(capacities.shape[0], dtype=np.int64)
    taken = np.zeros(count + 1, dtype=np.int64)  # 0 not yet looked at, 1 goes on, 2 waits
    left, rest = np.zeros(n, dtype=np.int64), np.zeros(n, dtype=np.int64)
    end, place = begin, 0
    while place >= 0:
        if place == count:
            late = np.uint64(0)
            for j in range(count):
                if taken[j] == 2:
                    late |= _bit(members[j])
            if _least(members, count, taken, used, demands, capacities):
                bound = _bound(problem, now, begun, working, late, time, makespan, left, rest)
                if bound < makespan and not _could_be_sooner(
                    problem, now, begun, working & ~late, late, time
                ):
                    if end >= pool.shape[0]:
                        return -1
                    at = end
                    while at > begin and bounds[at - 1] > bound:
                        pool[at], bounds[at] = pool[at - 1], bounds[at - 1]
                        at -= 1
                    pool[at], bounds[at] = late, bound
                    end += 1
            place -= 1
            continue
        i = members[place]
        if taken[place] == 0:
            fits = True
            for k in range(used.shape[0]):
                fits &= used[k] + demands[i, k] <= capacities[k]
            if fits:
                taken[place] = 1
                used += demands[i]
            else:
                taken[place] = 2
            place += 1
            if place < count:
                taken[place] = 0
        elif taken[place] == 1:
            used -= demands[i]
            taken[place] = 2
            place += 1
            if place < count:
                taken[place] = 0
        else:
            taken[place] = 0
            place -= 1
    return end


@kernel
def _least(members: Whole, count: int, taken: Whole, used: Whole, demands: Whole, capacities: Whole) -> bool:
    """Whether none of those that wait would fit beside those that go on."""
    for j in range(count):
        if taken[j] == 2:
            fits = True
            for k in range(used.shape[0]):
                fits &= used[k] + demands[members[j], k] <= capacities[k]
            if fits:
                return False
    return True


@kernel
def _could_be_sooner(
    problem: Problem, now: Whole, begun: np.uint64, going: np.uint64, late: np.uint64, time: int
) -> bool:
    """Whether something that begins now would have fitted a moment sooner, were it not for what now waits."""
    lengths, demands, capacities, before = problem[0], problem[1], problem[2], problem[4]
    n = lengths.shape[0]
    moved = False
    for i in range(n):
        moved |= _has(late, i) and now[i] < time
    if not moved:
        return False
    for i in range(n):
        if not _has(going, i) or now[i] != time or time == 0:
            continue
        sooner = True
        for j in range(n):
            sooner &= not _has(before[i], j) or now[j] + lengths[j] < time
        for k in range(capacities.shape[0]):
            used = demands[i, k]
            for j in range(n):
                if _has(begun & ~late, j) and now[j] < time and now[j] + lengths[j] >= time:
                    used += demands[j, k]
            sooner &= used <= capacities[k]
        if sooner:
            return True
    return False


@kernel
def _bound(
    problem: Problem,
    now: Whole,
    begun: np.uint64,
    working: np.uint64,
    late: np.uint64,
    time: int,
    enough: int,
    left: Whole,
    rest: Whole,
) -> int:
    """No schedule in which these wait is shorter: by what follows them, by the work that is left for each
    resource, and by what is left of activities of which no two go together. From `enough` on it is not
    looked for any further. `left` and `rest` are room, (n,) each."""
    lengths, demands, capacities, tails, _, apart, order, by_tail = problem
    going = working & ~late
    first = _first_end(now, lengths, going)
    bound, count = 0, 0
    for i in order:
        left[i] = 0
        if _has(going, i):
            left[i] = now[i] + lengths[i] - first
            bound = max(bound, now[i] + tails[i])
        elif _has(late, i):
            left[i] = lengths[i]
            bound = max(bound, first + tails[i])
        elif not _has(begun, i):
            left[i] = lengths[i]
        if left[i] > 0:
            rest[count] = i
            count += 1
    if bound >= enough:
        return bound
    for k in range(capacities.shape[0]):
        work = 0
        for i in by_tail:
            if left[i] > 0 and demands[i, k] > 0:
                work += left[i] * demands[i, k]
                bound = max(bound, first - (-work // capacities[k]) + tails[i] - lengths[i])
    for head in range(count):
        if bound >= enough:
            return bound
        lead = rest[head]
        clash, sum_left, behind = apart[lead], left[lead], tails[lead] - lengths[lead]
        for place in range(count):
            i = rest[place]
            if _has(clash, i):
                clash &= apart[i]
                sum_left += left[i]
                behind = min(behind, tails[i] - lengths[i])
        bound = max(bound, first + sum_left + behind)
    return bound
