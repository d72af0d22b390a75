"""Compiled serial plans of a firm: job by job, each task as early as crews, machines, hours and lags let it.

Ids of what is placed are the tasks' and, after them, those of absences, which are placed from the start.
A crew is at one site at a time and may share its people out there; a machine serves one task. Both need the
travel time from site to site.
"""

import numpy as np
from numpy.typing import NDArray

from slab_core.numerics.kernel import inner_kernel, kernel

Whole = NDArray[np.int64]
Flags = NDArray[np.bool_]
Floats = NDArray[np.float64]

Hours = tuple[Whole, Whole, Whole, Whole]
"""Stretches of work: where those of crew x place begin, from, until, day. At the last place, the yard, they
are the crew's shifts."""

Choices = tuple[Whole, Whole, Whole, Whole]
"""Ways to do a task: where each task's begin, crew, people, minutes."""

Lags = tuple[Whole, Whole, Whole, Whole]
"""What tasks wait for: where each task's begin, the other task, least and greatest minutes (-1 for none)."""

Facts = tuple[Whole, Whole, Flags, Whole, Whole, Whole, Whole, Whole, Whole]
"""By task: place (with absences, -1), kind of machine (-1 for none), whether it ends on its day, earliest
minute. Then people of each crew, kind of each machine, travel (places, places), the longest travel (1,), home
of each crew."""

Jobs = tuple[Whole, Whole, Whole]
"""Where each job's tasks begin, the job's promised minute (-1 for none), the task's job."""

Plan = tuple[Whole, Whole, Whole, Whole, Whole, Whole, Whole, Whole]
"""Starts and ends (tasks and absences), choice and machine by task (-1 while not placed), people (tasks and
absences), ids placed on each crew and machine by start (crews + machines, ids), how many, and for each place
in a row the latest end up to it."""

Wishes = tuple[Whole, Whole, Whole, Whole, Whole, Whole, Whole, Whole]
"""Order of the jobs, and by task the crew it would rather have (-1 for any), no start before, how many
minutes it may end later to save a person-minute of travel and waiting, the choice that it keeps where it
can begin just then (-1 for none), the machine that it takes where that is free (-1 for any), the one choice
that it is done in (-1 for any), and how many days it lets pass on which it might begin (-1 for none, but it
ends no sooner than what comes after can use)."""

THRIFTS = (0, 1, 2, 3, 5, 10, 20, 1000)
"""Minutes later that a task may end to save a person-minute, of which `wander` draws: with the most of them
it is put off, over a weekend too, for whatever that saves."""

LOTS = 3
"""One move of so many has tasks whose way or day is drawn by lot."""

REPAIRS = 25
ALL = 1 << 40
NEVER = 1 << 60


@inner_kernel
def _stretch(hours: Hours, pair: int, at: int) -> int:
    """The first stretch that ends after a minute; the one after the last when there is none."""
    low, high = hours[0][pair], hours[0][pair + 1]
    while low < high:
        middle = (low + high) // 2
        if hours[2][middle] > at:
            high = middle
        else:
            low = middle + 1
    return int(low)


@inner_kernel
def _advance(hours: Hours, pair: int, at: int, minutes: int, whole: bool) -> tuple[int, int]:
    """Start and end of so much work from a minute on; (-1, -1) when the hours end first."""
    pointers, begins, ends, days = hours
    k, last = _stretch(hours, pair, at), pointers[pair + 1]
    while k < last:
        start = max(at, begins[k])
        left, m = minutes, k
        while m < last and left > ends[m] - max(start, begins[m]):
            left -= ends[m] - max(start, begins[m])
            m += 1
        if m == last:
            return -1, -1
        if not whole or days[m] == days[k]:
            return start, max(start, begins[m]) + left
        day = days[k]
        while k < last and days[k] == day:
            k += 1
    return -1, -1


@inner_kernel
def _behind(plan: Plan, row: int, at: int) -> int:
    """How many on a row start before a minute."""
    starts, placed = plan[0], plan[5]
    low, high = 0, plan[6][row]
    while low < high:
        middle = (low + high) // 2
        if starts[placed[row, middle]] < at:
            low = middle + 1
        else:
            high = middle
    return low


@inner_kernel
def _clash(
    plan: Plan, row: int, span: tuple[int, int], place: int, need: int, capacity: int, facts: Facts
) -> int:
    """-1 when a crew or machine is free for a span; else a later minute before which it is not."""
    starts, ends, people, placed, reach = plan[0], plan[1], plan[4], plan[5], plan[7]
    places, travel, far = facts[0], facts[6], facts[7][0]
    start, end = span
    last = _behind(plan, row, end + far) - 1
    n, crowded = last, False
    while n >= 0 and reach[row, n] + far > start:
        b = placed[row, n]
        if places[b] >= 0 and places[b] != place:
            away = travel[places[b], place]
            if start < ends[b] + away and starts[b] < end + travel[place, places[b]]:
                return int(ends[b] + away)
        elif starts[b] < end and ends[b] > start:
            crowded = True
        n -= 1
    if not crowded:
        return -1 if need <= capacity else int(end)
    first = n + 1
    for n in range(first, last + 1):
        b = placed[row, n]
        if starts[b] >= end or ends[b] <= start:
            continue
        at, used, soonest = max(starts[b], start), need, ends[b]
        for m in range(first, last + 1):
            c = placed[row, m]
            if starts[c] <= at < ends[c]:
                used += people[c]
                soonest = min(soonest, ends[c])
        if used > capacity:
            return int(soonest)
    return -1


@inner_kernel
def _fit(
    plan: Plan,
    task: int,
    choice: int,
    at: int,
    most: int,
    own: int,
    hours: Hours,
    choices: Choices,
    facts: Facts,
) -> tuple[int, int, int]:
    """First start of a task in one of its ways, its end and its machine, `own` before others; a start of -1
    if there is none with an end before `most`."""
    places, kinds, wholes, crews, machines = facts[0], facts[1], facts[2], facts[4], facts[5]
    crew, need, minutes = choices[1][choice], choices[2][choice], choices[3][choice]
    pair = crew * facts[6].shape[0] + places[task]
    while at + minutes < most:
        start, end = _advance(hours, pair, at, minutes, wholes[task])
        if start < 0 or end >= most:
            break
        later = _clash(plan, crew, (start, end), places[task], need, crews[crew], facts)
        if later >= 0:
            at = later
            continue
        if kinds[task] < 0:
            return start, end, -1
        soonest = -1
        for n in range(-1, machines.shape[0]):
            machine = own if n < 0 else n
            if machine >= 0 and machines[machine] == kinds[task]:
                row = crews.shape[0] + machine
                # Somebody else on the same machine is as good as a crowd: every task needs all of it.
                later = _clash(plan, row, (start, end), places[task], ALL, ALL, facts)
                if later < 0:
                    return start, end, machine
                soonest = later if soonest < 0 else min(soonest, later)
        at = soonest
    return -1, -1, -1


@kernel
def _day_cost(
    plan: Plan,
    crew: int,
    shifts: tuple[int, int],
    span: tuple[int, int, int, int],
    hours: Hours,
    facts: Facts,
) -> int:
    """Person-minutes paid on a crew's day whose shifts are the stretches from `shifts[0]` until before
    `shifts[1]`, with one task more: start, end, place, people (0 for none). Drives in breaks do not count."""
    starts, ends, people, placed, reach = plan[0], plan[1], plan[4], plan[5], plan[7]
    places, travel, begins, closes = facts[0], facts[6], hours[1], hours[2]
    home, dawn, dusk = facts[8][crew], begins[shifts[0]], closes[shifts[1] - 1]
    last = _behind(plan, crew, dusk)
    first = last
    while first > 0 and reach[crew, first - 1] > dawn:
        first -= 1
    begin, until, most, ways, at = dusk, dawn, 0, 0, home
    waiting = span[3] > 0
    for n in range(first, last + 1):
        own = n == last
        b = placed[crew, min(n, last - 1)] if last > 0 else 0
        if not own and (places[b] < 0 or ends[b] <= dawn):
            continue
        if waiting and (own or starts[b] >= span[0]):
            waiting = False
            ways += travel[at, span[2]]
            at = span[2]
        if own:
            break
        ways += travel[at, places[b]]
        at = places[b]
    for n in range(first, last + 1):
        own = n == last
        if own and span[3] == 0:
            break
        b = placed[crew, n] if not own else 0
        if not own and (places[b] < 0 or ends[b] <= dawn):
            continue
        start, end = (span[0], span[1]) if own else (starts[b], ends[b])
        start, end = max(start, dawn), min(end, dusk)
        begin, until = min(begin, start), max(until, end)
        used = span[3] if span[0] <= start < span[1] else 0
        for m in range(first, last):
            c = placed[crew, m]
            if places[c] >= 0 and starts[c] <= start < ends[c]:
                used += people[c]
        most = max(most, used)
    ways += travel[at, home]
    for k in range(shifts[0], shifts[1]):
        ways += max(0, min(until, closes[k]) - max(begin, begins[k]))
    return int(most * ways)


@kernel
def _paid_more(
    plan: Plan, crew: int, span: tuple[int, int, int, int], hours: Hours, facts: Facts, minutes: int
) -> int:
    """How many person-minutes of travel and waiting a task adds to the days on which it would begin and end;
    less than nothing where it fills a wait."""
    pair = crew * facts[6].shape[0] + facts[6].shape[0] - 1
    none = (0, 0, 0, 0)
    more, before = -span[3] * minutes, -1
    for at in (span[0], span[1] - 1):
        first = _stretch(hours, pair, at)
        if first == hours[0][pair + 1] or hours[3][first] == before:
            continue
        before = hours[3][first]
        last = first + 1
        while first > hours[0][pair] and hours[3][first - 1] == before:
            first -= 1
        while last < hours[0][pair + 1] and hours[3][last] == before:
            last += 1
        more += _day_cost(plan, crew, (first, last), span, hours, facts)
        more -= _day_cost(plan, crew, (first, last), none, hours, facts)
    return more


@kernel
def _enter(plan: Plan, row: int, id: int) -> None:
    """Add to a crew's or machine's row, by start."""
    starts, placed, many = plan[0], plan[5], plan[6]
    n = many[row]
    while n > 0 and starts[placed[row, n - 1]] > starts[id]:
        placed[row, n] = placed[row, n - 1]
        n -= 1
    placed[row, n] = id
    many[row] += 1
    _reach(plan, row, n)


@kernel
def _leave(plan: Plan, row: int, id: int) -> None:
    """Take off a row."""
    placed, many = plan[5], plan[6]
    n = 0
    while placed[row, n] != id:
        n += 1
    for m in range(n, many[row] - 1):
        placed[row, m] = placed[row, m + 1]
    many[row] -= 1
    _reach(plan, row, n)


@inner_kernel
def _reach(plan: Plan, row: int, first: int) -> None:
    """Bring the latest ends of a row up to date from a place on."""
    ends, placed, reach = plan[1], plan[5], plan[7]
    latest = reach[row, first - 1] if first > 0 else 0
    for n in range(first, plan[6][row]):
        latest = max(latest, ends[placed[row, n]])
        reach[row, n] = latest


@kernel
def _put(plan: Plan, task: int, way: tuple[int, int, int, int], choices: Choices, crews: int) -> None:
    """Place a task: start, end, choice, machine."""
    plan[0][task], plan[1][task], plan[2][task], plan[3][task] = way
    plan[4][task] = choices[2][way[2]]
    _enter(plan, choices[1][way[2]], task)
    if way[3] >= 0:
        _enter(plan, crews + way[3], task)


@kernel
def _take_out(plan: Plan, task: int, choices: Choices, crews: int) -> None:
    _leave(plan, choices[1][plan[2][task]], task)
    if plan[3][task] >= 0:
        _leave(plan, crews + plan[3][task], task)
    plan[2][task] = -1


@inner_kernel
def _best_way(
    plan: Plan,
    task: int,
    at: int,
    rather: tuple[int, int, int],
    thrift: int,
    lot: tuple[int, int, int],
    hours: Hours,
    choices: Choices,
    facts: Facts,
) -> tuple[int, int, int, int]:
    """Start, end, choice and machine that cost least; a choice of -1 when nothing fits.

    The end is a cost, another crew than `rather[0]` adds `rather[1]` minutes, and travel and waiting `thrift`
    minutes for each person-minute; the machine is `rather[2]` where that is free. With thrift the next day's
    morning is looked at too. `lot` is the only choice (-1 for any), the days to let pass, and a minute
    not to end much before: what is neither early nor cheap by itself may be so with what comes after, which
    shares its journey.
    """
    best, way = NEVER, (-1, -1, -1, -1)
    for choice in range(choices[0][task], choices[0][task + 1]):
        if lot[0] >= 0 and choice != lot[0]:
            continue
        crew, minutes, place = choices[1][choice], choices[3][choice], facts[0][task]
        pair, soonest = crew * facts[6].shape[0] + place, max(at, lot[2] - minutes)
        for _ in range(lot[1]):
            soonest = max(soonest, _next_morning(hours, pair, soonest))
        other = rather[1] if rather[0] >= 0 and crew != rather[0] else 0
        most = best - other
        if thrift:  # what fills a wait gains so much at most
            most += thrift * choices[2][choice] * minutes
        start, end, machine = _fit(plan, task, choice, soonest, most, rather[2], hours, choices, facts)
        for _ in range(2):
            if start < 0:
                break
            cost = end + other
            if thrift:
                need = choices[2][choice]
                cost += thrift * _paid_more(plan, crew, (start, end, place, need), hours, facts, minutes)
            if cost < best:
                best, way = cost, (start, end, choice, machine)
            if not thrift:
                break
            morning = _next_morning(hours, pair, start)
            if morning < 0:
                break
            start, end, machine = _fit(plan, task, choice, morning, most, rather[2], hours, choices, facts)
    return way


@inner_kernel
def _next_morning(hours: Hours, pair: int, at: int) -> int:
    """The first minute of work on a day after that of a minute of work; -1 when there is none."""
    pointers, begins, _, days = hours
    low = _stretch(hours, pair, at)
    for k in range(low, pointers[pair + 1]):
        if days[k] != days[low]:
            return int(begins[k])
    return -1


@inner_kernel
def _exceeded(plan: Plan, task: int, lags: Lags) -> tuple[int, int]:
    """The task waited for whose greatest lag is exceeded most, and by how many minutes; (-1, 0) for none."""
    worst, most = -1, 0
    for n in range(lags[0][task], lags[0][task + 1]):
        if lags[3][n] >= 0:
            excess = plan[0][task] - plan[1][lags[1][n]] - lags[3][n]
            if excess > most:
                worst, most = lags[1][n], excess
    return worst, most


@inner_kernel
def _of_use(plan: Plan, task: int, last: int, lags: Lags) -> int:
    """The minute before which a task need not end, since the first task that waits for it waits for others
    as well, so far as these are placed; 0 for none."""
    for after in range(task + 1, last):
        least, others = -1, 0
        for n in range(lags[0][after], lags[0][after + 1]):
            if lags[1][n] == task:
                least = lags[2][n]
            elif plan[2][lags[1][n]] >= 0:
                others = max(others, plan[1][lags[1][n]] + lags[2][n])
        if least >= 0:
            return max(0, others - least)
    return 0


@kernel
def _place_job(
    plan: Plan,
    job: int,
    fixed: Flags,
    wishes: Wishes,
    apart: int,
    hours: Hours,
    choices: Choices,
    lags: Lags,
    facts: Facts,
    jobs: Jobs,
) -> bool:
    """Place a job's tasks in turn; where a greatest lag is exceeded what comes before begins later, and all
    of the job is placed again. False when the hours end first."""
    first, last, crews = jobs[0][job], jobs[0][job + 1], facts[4].shape[0]
    lower = wishes[2][first:last].copy()
    for repair in range(REPAIRS):
        held = -1
        for task in range(first, last):
            if fixed[task]:
                continue
            at = max(lower[task - first], facts[3][task])
            for n in range(lags[0][task], lags[0][task + 1]):
                at = max(at, plan[1][lags[1][n]] + lags[2][n])
            way, kept, own = (-1, -1, -1, -1), wishes[4][task], wishes[5][task]
            if kept >= 0 and at == wishes[2][task]:
                start, end, machine = _fit(plan, task, kept, at, NEVER, own, hours, choices, facts)
                if start == at:
                    way = (start, end, kept, machine)
            if way[2] < 0:
                rather = (wishes[1][task], apart, own)
                until = _of_use(plan, task, last, lags) if wishes[7][task] < 0 else 0
                lot = (wishes[6][task], wishes[7][task], until)
                way = _best_way(plan, task, at, rather, wishes[3][task], lot, hours, choices, facts)
            if way[2] < 0:
                return False
            _put(plan, task, way, choices, crews)
            worst, excess = _exceeded(plan, task, lags)
            if excess > 0 and not fixed[worst] and repair + 1 < REPAIRS:
                held = task
                lower[worst - first] = plan[0][worst] + excess
                break
        if held < 0:
            return True
        for task in range(first, held + 1):
            if not fixed[task]:
                _take_out(plan, task, choices, crews)
    return True


@kernel
def build(
    plan: Plan,
    absences: Whole,
    fixed: Whole,
    wishes: Wishes,
    apart: int,
    hours: Hours,
    choices: Choices,
    lags: Lags,
    facts: Facts,
    jobs: Jobs,
) -> bool:
    """A whole plan. `absences` are the crews of those; `fixed` (tasks, 4) start, end, choice and machine of
    what stays where it is, a choice of -1 for what does not. False when the hours end too soon."""
    plan[6][:] = 0
    plan[2][:] = -1
    tasks, crews = jobs[2].shape[0], facts[4].shape[0]
    for n in range(absences.shape[0]):
        _enter(plan, absences[n], tasks + n)
    stays = fixed[:, 2] >= 0
    for task in range(tasks):
        if stays[task]:
            way = (fixed[task, 0], fixed[task, 1], fixed[task, 2], fixed[task, 3])
            _put(plan, task, way, choices, crews)
    for job in wishes[0]:
        if not _place_job(plan, job, stays, wishes, apart, hours, choices, lags, facts, jobs):
            return False
    return True


@kernel
def _worked(shifts: tuple[Whole, Whole], begin: int, end: int) -> int:
    """Minutes of shifts between two minutes."""
    minutes = 0
    for k in range(shifts[0].shape[0]):
        minutes += max(0, min(end, shifts[1][k]) - max(begin, shifts[0][k]))
    return minutes


@kernel
def _day_paid(pieces: Whole, shifts: tuple[Whole, Whole], home: int, travel: Whole) -> tuple[int, int]:
    """Person-minutes paid and travelled on a crew's day from home and back. `pieces` (n, 4): from, until,
    people, place.

    As many come as are at work at once at most. Breaks between shifts are paid only where they are driven
    through.
    """
    most, until, moved, driven = 0, pieces[0, 1], 0, 0
    last = pieces.shape[0] - 1
    for n in range(last + 1):
        used = 0
        for m in range(last + 1):
            if pieces[m, 0] <= pieces[n, 0] < pieces[m, 1]:
                used += pieces[m, 2]
        most = max(most, used)
        if n > 0:
            way = travel[pieces[n - 1, 3], pieces[n, 3]]
            moved += way
            driven += max(0, way - _worked(shifts, until, pieces[n, 0]))
        until = max(until, pieces[n, 1])
    ways = travel[home, pieces[0, 3]] + travel[pieces[last, 3], home]
    return most * (_worked(shifts, pieces[0, 0], until) + driven + ways), most * (moved + ways)


@kernel
def _crew_pieces(plan: Plan, crew: int, hours: Hours, facts: Facts, tasks: int) -> tuple[Whole, Whole]:
    """The stretches in which the crew is at work, by start (n, 4): from, until, people, place; their days."""
    pointers, begins, ends, day_of = hours
    many = 0
    pieces, days = np.empty((4 * tasks, 4), np.int64), np.empty(4 * tasks, np.int64)
    for n in range(plan[6][crew]):
        task = plan[5][crew, n]
        if task >= tasks:
            continue
        pair = crew * facts[6].shape[0] + facts[0][task]
        k = _stretch(hours, pair, plan[0][task])
        while k < pointers[pair + 1] and begins[k] < plan[1][task]:
            if many == days.shape[0]:
                pieces, days = np.concatenate((pieces, pieces)), np.concatenate((days, days))
            at = many
            begin = max(plan[0][task], begins[k])
            while at > 0 and pieces[at - 1, 0] > begin:
                for part in range(4):
                    pieces[at, part] = pieces[at - 1, part]
                days[at] = days[at - 1]
                at -= 1
            pieces[at, 0], pieces[at, 1] = begin, min(plan[1][task], ends[k])
            pieces[at, 2], pieces[at, 3] = plan[4][task], facts[0][task]
            days[at] = day_of[k]
            many += 1
            k += 1
    return pieces[:many], days[:many]


@kernel
def weigh(plan: Plan, hours: Hours, lags: Lags, facts: Facts, jobs: Jobs) -> tuple[int, int, int, int, int]:
    """Minutes by which greatest lags are exceeded, minutes late, person-minutes paid, person-minutes
    travelled, and the sum of the jobs' finishes."""
    pointers, begins, ends, day_of = hours
    crews, places, tasks = facts[4].shape[0], facts[6].shape[0], jobs[2].shape[0]
    over, late, paid, travelled, finishes = 0, 0, 0, 0, 0
    for task in range(tasks):
        over += _exceeded(plan, task, lags)[1]
    for job in range(jobs[1].shape[0]):
        finish = 0
        for task in range(jobs[0][job], jobs[0][job + 1]):
            finish = max(finish, plan[1][task])
        finishes += finish
        if jobs[1][job] >= 0:
            late += max(0, finish - jobs[1][job])
    for crew in range(crews):
        pieces, days = _crew_pieces(plan, crew, hours, facts, tasks)
        many = days.shape[0]
        k, last, first = pointers[crew * places + places - 1], pointers[crew * places + places], 0
        while first < many:
            end = first
            while end < many and days[end] == days[first]:
                end += 1
            while k < last and day_of[k] < days[first]:
                k += 1
            m = k
            while m < last and day_of[m] == days[first]:
                m += 1
            shifts = (begins[k:m], ends[k:m])
            cost, ways = _day_paid(pieces[first:end], shifts, facts[8][crew], facts[6])
            paid += cost
            travelled += ways
            first = end
    return over, late, paid, travelled, finishes


@kernel
def _others(plan: Plan, job: int, draws: Whole, jobs: Jobs, picked: Whole) -> int:
    """Fill `picked` with a job and up to two that stand near it in the rows of its crews; how many."""
    picked[0] = job
    many, tasks = 1, jobs[2].shape[0]
    first, last = jobs[0][job], jobs[0][job + 1]
    for k in range(draws[0] % 3):
        task = first + draws[2 * k + 1] % (last - first)
        for row in range(plan[6].shape[0]):
            for n in range(plan[6][row]):
                if plan[5][row, n] == task:
                    near = min(max(0, n + draws[2 * k + 2] % 17 - 8), plan[6][row] - 1)
                    other = plan[5][row, near]
                    if other < tasks:
                        known = False
                        for m in range(many):
                            known = known or picked[m] == jobs[2][other]
                        if not known and many < 3:
                            picked[many] = jobs[2][other]
                            many += 1
    return many


@kernel
def _clear(plan: Plan, job: int, stays: Flags, choices: Choices, crews: int, jobs: Jobs) -> None:
    """Take out whatever of a job is placed and may move."""
    for task in range(jobs[0][job], jobs[0][job + 1]):
        if plan[2][task] >= 0 and not stays[task]:
            _take_out(plan, task, choices, crews)


@kernel
def _part(stays: Flags, first: int, last: int, draw: Whole, held: Flags) -> None:
    """Mark in `held` what of a job does not move now: nothing but what stays, all before a task, or all
    outside a stretch of tasks."""
    begin, end = first, last
    if draw[11] % 4 > 0:
        begin += draw[12] % (last - first)
    if draw[11] % 4 > 1:
        end = min(last, begin + 1 + draw[13] % 8)
    for task in range(first, last):
        held[task] = stays[task] or task < begin or task >= end


@inner_kernel
def _shaken(number: int) -> int:
    """The next whole number in a row of chance below 2^31, of which the upper bits are good."""
    return (number * 1103515245 + 12345) % 2147483648


@kernel
def _draw_wishes(
    wishes: Wishes, n: int, span: tuple[int, int], draw: Whole, was: Whole, choices: Choices, crews: int
) -> None:
    """Fill in how the tasks of the move's n-th job are placed again: thrift for each or for all, the crews
    that they had, one for all or any, and now and then a way and a later start by lot."""
    each, lot = draw[6], draw[15]
    for task in range(span[0], span[1]):
        each, lot = _shaken(each), _shaken(lot)
        thrift = each >> 16 if draw[14] % 2 == 0 else draw[6] >> (3 * n)
        wishes[3][task] = THRIFTS[thrift % len(THRIFTS)]
        wishes[1][task] = (-1, choices[1][was[task, 2]], draw[8] % crews)[draw[7] % 3]
        wishes[6][task], wishes[7][task] = -1, 0
        if draw[15] % LOTS == 0 and (lot >> 16) % 4 == 0:
            ways = choices[0][task + 1] - choices[0][task]
            wishes[6][task] = choices[0][task] + (lot >> 18) % ways
        if draw[15] % LOTS == 0 and (lot >> 24) % 4 == 0:
            wishes[7][task] = (-1, 1, 2)[(lot >> 26) % 3]


@kernel
def _waited(plan: Plan, first: int, last: int, lags: Lags) -> bool:
    """Whether every task of a job comes after what it waits for."""
    for task in range(first, last):
        for n in range(lags[0][task], lags[0][task + 1]):
            if plan[0][task] < plan[1][lags[1][n]] + lags[2][n]:
                return False
    return True


@kernel
def wander(
    plan: Plan,
    best: Plan,
    fixed: Whole,
    draws: Whole,
    chances: Floats,
    heat: float,
    weights: Floats,
    hours: Hours,
    choices: Choices,
    lags: Lags,
    facts: Facts,
    jobs: Jobs,
) -> None:
    """Take a few jobs that stand near each other, or parts of them, out of the plan and place them again, as
    often as there are rows of `draws` (n, 16; whole numbers) and `chances` (n,). A worse plan is gone on from
    with a chance that falls with its score over `heat`; `weights` are those of overdue, late and finish
    minutes. `plan` is what it ends at, `best` the best by rank, which the caller fills with a plan to begin
    with."""
    tasks, crews = jobs[2].shape[0], facts[4].shape[0]
    stays = fixed[:, 2] >= 0
    held = stays.copy()
    picked, was = np.empty(3, np.int64), np.empty((tasks, 4), np.int64)
    none, nothing = np.zeros(tasks, np.int64), np.full(tasks, -1)
    wishes = (none, nothing.copy(), none, none.copy(), nothing, nothing, nothing.copy(), none.copy())
    over, late, paid, _, finishes = weigh(plan, hours, lags, facts, jobs)
    score = weights[0] * over + weights[1] * late + paid + weights[2] * finishes
    top_over, top_late, top_paid, _, top_finishes = weigh(best, hours, lags, facts, jobs)
    for move in range(draws.shape[0]):
        draw = draws[move]
        many = _others(plan, draw[5] % (jobs[0].shape[0] - 1), draw, jobs, picked)
        for task in range(tasks):
            was[task, 0], was[task, 1], was[task, 2] = plan[0][task], plan[1][task], plan[2][task]
            was[task, 3] = plan[3][task]
        for n in range(many):
            first, last = jobs[0][picked[n]], jobs[0][picked[n] + 1]
            _part(stays, first, last, draw, held)
            _draw_wishes(wishes, n, (first, last), draw, was, choices, crews)
            _clear(plan, picked[n], held, choices, crews, jobs)
        apart = (60, 240, 1440)[draw[9] % 3]
        right = True
        for n in range(many):
            at = many - 1 - n if draw[10] % 2 else n
            if right:
                right = _place_job(plan, picked[at], held, wishes, apart, hours, choices, lags, facts, jobs)
                right = right and _waited(plan, jobs[0][picked[at]], jobs[0][picked[at] + 1], lags)
        if right:
            over, late, paid, _, finishes = weigh(plan, hours, lags, facts, jobs)
            new = weights[0] * over + weights[1] * late + paid + weights[2] * finishes
            right = new <= score or chances[move] < np.exp((score - new) / heat)
        if not right:
            for n in range(many):
                _clear(plan, picked[n], held, choices, crews, jobs)
            for n in range(many):
                for task in range(jobs[0][picked[n]], jobs[0][picked[n] + 1]):
                    if not held[task]:
                        way = (was[task, 0], was[task, 1], was[task, 2], was[task, 3])
                        _put(plan, task, way, choices, crews)
            continue
        score = new
        if (over, late, paid, finishes) < (top_over, top_late, top_paid, top_finishes):
            top_over, top_late, top_paid, top_finishes = over, late, paid, finishes
            best[0][:], best[1][:], best[2][:], best[3][:] = plan[0], plan[1], plan[2], plan[3]
            best[4][:], best[5][:], best[6][:], best[7][:] = plan[4], plan[5], plan[6], plan[7]


@kernel
def earliest_ends(
    fixed: Whole, hours: Hours, choices: Choices, lags: Lags, facts: Facts, ends: Whole
) -> bool:
    """Fill `ends` (tasks,) with what each task would end at if crews and machines were endless."""
    places = facts[6].shape[0]
    for task in range(ends.shape[0]):
        if fixed[task, 2] >= 0:
            ends[task] = fixed[task, 1]
            continue
        at, best = facts[3][task], -1
        for n in range(lags[0][task], lags[0][task + 1]):
            at = max(at, ends[lags[1][n]] + lags[2][n])
        for choice in range(choices[0][task], choices[0][task + 1]):
            pair = choices[1][choice] * places + facts[0][task]
            end = _advance(hours, pair, at, choices[3][choice], facts[2][task])[1]
            if end >= 0 and (best < 0 or end < best):
                best = end
        if best < 0:
            return False
        ends[task] = best
    return True


@kernel
def first_span(hours: Hours, pair: int, at: int, minutes: int, whole: bool) -> tuple[int, int]:
    """From when until when so much work may be done from a minute on; (-1, -1) when the hours end first."""
    return _advance(hours, pair, at, minutes, whole)


@kernel
def still_right(
    plan: Plan,
    absences: Whole,
    before: Whole,
    fixed: Whole,
    order: Whole,
    hours: Hours,
    choices: Choices,
    lags: Lags,
    facts: Facts,
    jobs: Jobs,
    right: Flags,
) -> None:
    """Place what has begun and then, in `order`, every other visit of a plan `before` (tasks, 4) just as it
    was. `right` (jobs,) becomes False for jobs with a visit that can no longer be so; these are left out."""
    plan[6][:] = 0
    plan[2][:] = -1
    tasks, crews, places = jobs[2].shape[0], facts[4].shape[0], facts[6].shape[0]
    for n in range(absences.shape[0]):
        _enter(plan, absences[n], tasks + n)
    for task in range(tasks):
        if fixed[task, 2] >= 0:
            way = (fixed[task, 0], fixed[task, 1], fixed[task, 2], fixed[task, 3])
            _put(plan, task, way, choices, crews)
    for task in order:
        start, end, choice, machine = before[task]
        if fixed[task, 2] >= 0 or not right[jobs[2][task]]:
            continue
        crew, place = choices[1][choice], facts[0][task]
        pair = crew * places + place
        fits = choice >= 0 and start >= facts[3][task]
        fits = fits and facts[1][task] == (facts[5][machine] if machine >= 0 else -1)
        if fits:
            again = _advance(hours, pair, start, choices[3][choice], facts[2][task])
            fits = again[0] == start and again[1] == end
        for n in range(lags[0][task], lags[0][task + 1]):
            wait = start - plan[1][lags[1][n]]
            begun = fixed[lags[1][n], 2] >= 0
            fits = fits and plan[2][lags[1][n]] >= 0 and wait >= lags[2][n]
            fits = fits and (not begun or lags[3][n] < 0 or wait <= lags[3][n])
        if fits:
            fits = _clash(plan, crew, (start, end), place, choices[2][choice], facts[4][crew], facts) < 0
        if fits and machine >= 0:
            fits = _clash(plan, crews + machine, (start, end), place, ALL, ALL, facts) < 0
        if fits:
            _put(plan, task, (start, end, choice, machine), choices, crews)
        else:
            right[jobs[2][task]] = False
