"""The waits of every task on the tasks before it."""

from dataclasses import replace
from itertools import pairwise

from slab_core.schedule.drying import Products, lift_to_dry, wait_between
from slab_core.schedule.model import Lag
from slab_core.schedule.order import AT_THE_END, predecessors
from slab_core.schedule.pre_cutting import feeds
from slab_core.schedule.priming import primes
from slab_core.schedule.retests import retests_of
from slab_core.takeoff.model import Task

STARTS_A_WAIT = frozenset(
    {"resting", "prime", "pour", "edges", "patch", "skim"}
    | {"finish", "moisture-read", "acclimation", "spread"}
)
"""Codes whose wait may outlast the work in between, so that it is kept to whatever later code asks for it."""

Rows = list[dict[int, Lag]]
"""For each task its lags by the position of the task waited for."""


def lags_of(
    *, tasks: tuple[Task, ...], ids: tuple[str, ...], products: Products
) -> tuple[tuple[Lag, ...], ...]:
    """For each task its lags, at most one on each other task, in the order of the tasks."""
    found: Rows = [{} for _ in tasks]
    _order_of_work(tasks, ids, products, found)
    _pours(tasks, ids, products, found)
    _primings(tasks, ids, found)
    _in_turn(tasks, ids, "spread", found)
    _moisture_results(tasks, ids, found)
    if not products.adhesive.moisture_barrier:
        _hold_for_moisture(tasks, ids, found)
    _tape_off(tasks, products, found)
    _phases(tasks, ids, found)
    _hand_over(tasks, ids, found)
    return tuple(tuple(lags[i] for i in sorted(lags)) for lags in found)


def _order_of_work(tasks: tuple[Task, ...], ids: tuple[str, ...], products: Products, found: Rows) -> None:
    present = frozenset(task.code for task in tasks)
    first = min((task.phase for task in tasks if task.phase > 0), default=0)
    for later, task in enumerate(tasks):
        direct = set(predecessors(code=task.code, present=present))
        waiting = _waited_for(task.code, present)
        for earlier, other in enumerate(tasks):
            if not _follows(other, task, first) or _of_another(other, task):
                continue
            lag = _lag(other, task, ids[earlier], products)
            if other.code in direct or (other.code in waiting and lag.why):
                found[later][earlier] = lag


def _follows(before: Task, after: Task, first_phase: int) -> bool:
    """Whether the two are close enough for the order of work to hold between them."""
    same_floor = before.floor == after.floor or not before.floor or not after.floor
    if after.phase == 0 and before.phase > 0 and after.code not in AT_THE_END:
        return same_floor and before.phase == first_phase
    return same_floor and (before.phase == after.phase or 0 in (before.phase, after.phase))


def _of_another(before: Task, after: Task) -> bool:
    """A priming of other pours, boards of other spreads, a reading of another test."""
    if (before.code, after.code) == ("prime", "pour"):
        return not primes(prime=before, pour=after)
    if (before.code, after.code) == ("pre-cut", "spread"):
        return not feeds(pre_cut=before, spread=after)
    return (before.code, after.code) == ("moisture-retest", "moisture-reread") and before.part != after.part


def _waited_for(code: str, present: frozenset[str]) -> set[str]:
    earlier: set[str] = set()
    reach = list(predecessors(code=code, present=present))
    while reach:
        before = reach.pop()
        if before not in earlier:
            earlier.add(before)
            reach.extend(predecessors(code=before, present=present))
    return earlier & STARTS_A_WAIT


def _lag(before: Task, after: Task, id: str, products: Products) -> Lag:
    wait = wait_between(before=before.code, after=after.code, depth_m=before.depth_m, products=products)
    if wait is None:
        return Lag(after=id)
    greatest = None if wait.greatest_hours is None else round(wait.greatest_hours * 60)
    return Lag(after=id, least_minutes=round(wait.least_hours * 60), greatest_minutes=greatest, why=wait.why)


def _same_area(one: Task, other: Task) -> bool:
    return (one.floor, one.phase) == (other.floor, other.phase)


def _in_turn(tasks: tuple[Task, ...], ids: tuple[str, ...], code: str, found: Rows) -> None:
    rows = [i for i, task in enumerate(tasks) if task.code == code]
    for earlier, later in pairwise(rows):
        if _same_area(tasks[earlier], tasks[later]):
            found[later].setdefault(earlier, Lag(after=ids[earlier]))


def _pours(tasks: tuple[Task, ...], ids: tuple[str, ...], products: Products, found: Rows) -> None:
    """Pours of one lift follow each other; a further lift waits for the one under it and the primer on that,
    which is rolled on once that is dry."""
    _in_turn(tasks, ids, "pour", found)
    pours = [i for i, task in enumerate(tasks) if task.code == "pour"]
    for later, task in enumerate(tasks):
        if task.code not in ("prime", "pour"):
            continue
        wait = lift_to_dry(primed=task.code == "pour", products=products)
        for earlier in pours:
            if 0 < tasks[earlier].lift == task.lift - 1 and _same_area(tasks[earlier], task):
                minutes = round(wait.least_hours * 60)
                found[later][earlier] = Lag(after=ids[earlier], least_minutes=minutes, why=wait.why)


def _primings(tasks: tuple[Task, ...], ids: tuple[str, ...], found: Rows) -> None:
    """The next day's bays are primed when today's are poured, so that no primer waits past its time."""
    rows = [i for i, task in enumerate(tasks) if task.code == "prime"]
    for earlier, later in pairwise(rows):
        if not _same_area(tasks[earlier], tasks[later]):
            continue
        for pour, task in enumerate(tasks):
            poured = task.code == "pour" and _same_area(task, tasks[earlier])
            if poured and primes(prime=tasks[earlier], pour=task):
                found[later].setdefault(pour, Lag(after=ids[pour]))


def _hold_for_moisture(tasks: tuple[Task, ...], ids: tuple[str, ...], found: Rows) -> None:
    """Without a moisture-barrier adhesive a wet slab must be known before anything covers it."""
    reads = [i for i, task in enumerate(tasks) if task.code == "moisture-read"]
    for later, task in enumerate(tasks):
        if task.code in ("prime", "pour"):
            for earlier in reads:
                if _follows(tasks[earlier], task, 0):
                    found[later].setdefault(earlier, Lag(after=ids[earlier], why="the moisture result"))


def _moisture_results(tasks: tuple[Task, ...], ids: tuple[str, ...], found: Rows) -> None:
    """Each spread is held to the latest reading that there is for it; an earlier one has done its service."""
    retests = retests_of(tasks=tasks)
    of_phase = {task.phase: i for i, task in enumerate(tasks) if task.code == "moisture-read" and task.phase}
    again = {row: retest.reading for retest in retests for row in retest.spreads}
    for row in (i for i, task in enumerate(tasks) if task.code == "spread"):
        latest = again.get(row, of_phase.get(tasks[row].phase))
        if latest is not None:
            _keep_reading(tasks, ids, found[row], latest)
    for retest in retests:
        if retest.after is not None and retest.before is not None:
            found[retest.test] = {retest.after: Lag(after=ids[retest.after])}
            found[retest.reading].setdefault(retest.before, Lag(after=ids[retest.before]))


def _keep_reading(tasks: tuple[Task, ...], ids: tuple[str, ...], lags: dict[int, Lag], latest: int) -> None:
    """Earlier results only come before, results of later rounds are for later spreads."""
    for other in [i for i in lags if i != latest and tasks[i].code in ("moisture-read", "moisture-reread")]:
        if tasks[other].code == "moisture-read":
            lags[other] = Lag(after=ids[other])
        else:
            del lags[other]


def _tape_off(tasks: tuple[Task, ...], products: Products, found: Rows) -> None:
    """Tape on earlier spreads comes off while the next rows are laid, so only the last one counts."""
    hours = products.waits.tape_off_within_hours
    last = {(t.floor, t.phase): i for i, t in enumerate(tasks) if t.code == "spread"}
    for later, task in enumerate(tasks):
        row = last.get((task.floor, task.phase))
        if task.code == "tape-off" and row is not None:
            lag = found[later][row]
            why = f"{lag.why}, tape off within {hours:g} h"
            found[later][row] = replace(lag, greatest_minutes=round(hours * 60), why=why)


def _phases(tasks: tuple[Task, ...], ids: tuple[str, ...], found: Rows) -> None:
    """A phase begins when the one before it is through: its furniture needs the finished floor."""
    numbers = sorted({task.phase for task in tasks if task.phase > 0})
    for before, after in pairwise(numbers):
        mine = [i for i, task in enumerate(tasks) if task.phase == after]
        theirs = [i for i, task in enumerate(tasks) if task.phase == before]
        followed = {j for i in theirs for j in found[i]}
        ends = [i for i in theirs if i not in followed]
        for later in (i for i in mine if not any(tasks[j].phase == after for j in found[i])):
            for earlier in ends:
                found[later].setdefault(earlier, Lag(after=ids[earlier], why="the phase before it"))


def _hand_over(tasks: tuple[Task, ...], ids: tuple[str, ...], found: Rows) -> None:
    """A walk through the whole job comes after everything that nothing else follows."""
    followed = {j for lags in found for j in lags}
    for later, task in enumerate(tasks):
        if task.code == "hand-over" and task.phase == 0:
            for earlier, other in enumerate(tasks):
                if earlier not in followed and other.code != "hand-over":
                    found[later].setdefault(earlier, Lag(after=ids[earlier]))
