"""The best plan within the budget: a fast one first, then the solver unless the fast one is proven best."""

from __future__ import annotations

from slab_core.numerics.budget import Budget
from slab_core.schedule.axis import Axis
from slab_core.schedule.bounds import finish_bound, heads
from slab_core.schedule.grid import Answer, Places, Puzzle
from slab_core.schedule.serial import serial, tails
from slab_core.schedule.solve import solve

EXTRA_DAYS = 6
"""Days beyond the fast plan in which the solver may look for a way to keep a greatest lag."""

TRIALS = 20
"""Serial plans tried before the solver is asked; fewer where there is so much work that each takes long."""

LAST = 1e12
"""Beyond any tail, in minutes."""

WORTH_SOLVING = 100
"""Beyond so many activities the fast plan is taken: on a hall of 184 the solver took 6 s and bettered
nothing within its effort."""


def search(*, puzzle: Puzzle, axis: Axis, budget: Budget) -> Answer:
    """A plan that keeps everything, or with the least excess of greatest lags where that is impossible.

    Raises
    ------
    AxisTooShort
        when the axis has too few slots.
    Stopped
        when the budget says so.
    """
    budget.left_s()
    first = heads(puzzle=puzzle, axis=axis)
    least = finish_bound(puzzle=puzzle, heads=first)
    fast = fast_plan(puzzle=puzzle, axis=axis, good_enough=least)
    if fast is not None and fast.finish <= least:
        return Answer(places=fast, bound=least, optimal=True)
    loose = fast or _loosened(puzzle=puzzle, axis=axis, good_enough=least)
    if puzzle.count > WORTH_SOLVING:
        return Answer(places=loose, bound=least, optimal=False)
    found = solve(
        puzzle=puzzle,
        axis=axis,
        heads=first,
        hint=loose,
        horizon=loose.finish if fast else _some_days_on(axis, loose.finish),
        soft=fast is None,
        seconds=budget.left_s(),
    )
    if found is None:
        return Answer(places=loose, bound=least, optimal=False)
    bound = max(least, found.bound)
    settled = _settled(puzzle, axis, found.places)
    return Answer(places=settled, bound=bound, optimal=settled.finish <= bound)


def fast_plan(*, puzzle: Puzzle, axis: Axis, good_enough: int) -> Places | None:
    """The best of some serial plans, or the first that ends by `good_enough`; None when none keeps every
    greatest lag.

    The first goes by the longest tail and puts what fills waits last, the others by tails shaken a little
    more each time, in the same way every time.
    """
    tail, best = tails(puzzle=puzzle), None
    for trial in range(max(3, min(TRIALS, 12 * WORTH_SOLVING // puzzle.count))):
        order = [_last(puzzle, i, trial) - t * (1.0 + _shake(i, trial)) for i, t in enumerate(tail)]
        plan = serial(puzzle=puzzle, axis=axis, priority=order)
        if plan is not None and (best is None or plan.finish < best.finish):
            best = plan
        if best is not None and best.finish <= good_enough:
            break
    return best


def _last(puzzle: Puzzle, index: int, trial: int) -> float:
    """What fills waits is placed after all that is free to go; every other trial goes by the tails alone."""
    return LAST if puzzle.fills_waits[index] and trial % 2 == 0 else 0.0


def _loosened(*, puzzle: Puzzle, axis: Axis, good_enough: int) -> Places:
    """A fast plan that gives up the longest greatest lags first: a test can be taken again, primer that has
    dried too long is under the pour for good."""
    greatest = {link.greatest for link in puzzle.links if link.greatest is not None}
    for minutes in sorted(greatest, reverse=True):
        rest = puzzle.without_greatest(from_minutes=minutes)
        plan = fast_plan(puzzle=rest, axis=axis, good_enough=good_enough)
        if plan is not None:
            return plan
    plan = fast_plan(puzzle=puzzle.without_greatest(), axis=axis, good_enough=good_enough)
    assert plan is not None  # without greatest lags nothing can fail
    return plan


def _shake(index: int, trial: int) -> float:
    """Even over [0, trial / TRIALS) and without a pattern between neighbours: a golden-ratio sequence."""
    return ((index + 1) * (trial + 7) * 0.6180339887498949) % 1.0 * trial / TRIALS


def _settled(puzzle: Puzzle, axis: Axis, places: Places) -> Places:
    """The solver leaves idle gaps where they cost no time: place everything again in its order."""
    fixed = puzzle.settled_on(places.modes)
    again = serial(puzzle=fixed, axis=axis, priority=places.starts)
    return places if again is None or again.finish > places.finish else again


def _some_days_on(axis: Axis, finish: int) -> int:
    last = min(axis.day_of(finish - 1) + EXTRA_DAYS, len(axis.day_last) - 1)
    return axis.day_last[last]
