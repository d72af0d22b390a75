"""The firm's plan made better piece by piece: some jobs, or parts of them, are taken out and placed again."""

from __future__ import annotations

from math import isfinite

import numpy as np

from slab_core.numerics.budget import Budget
from slab_core.schedule.firm.kernels import wander
from slab_core.schedule.firm.search import LATE, LATER, OVERDUE, FirmSearch, copied

MOVES = 5_000
"""Moves where no clock ends the search."""

IN_VAIN = 500
"""Moves without an earlier finish after which a proven plan is left alone."""

BATCH = 50
"""Moves between two looks at the clock: some hundredths of a second for a firm of forty jobs."""

HOT, COLD = 40.0, 0.5
"""A plan that is worse by so many person-minutes is gone on from with a chance of 1/e, first and last: less
at the end than a finish a day later weighs."""

_DRAWS, _MOST = 16, 2**31


def wander_from(*, search: FirmSearch, budget: Budget, seed: int, late: int, paid: int) -> None:
    """Make the best plan of a search better until the time or the moves are over, or until it is proven best
    (`late` and `paid` are what no plan can beat) and a while has brought no earlier finishes either.

    The search must hold on to no plan of before.
    """
    start = search.best
    if start is None or len(search.arrays.firm.jobs) == 0:
        return
    arrays, rng, begin = search.arrays, np.random.default_rng(seed), budget.left_s()
    plan, best = copied(start.plan), copied(start.plan)
    weights = np.array([OVERDUE, LATE, LATER])
    made, gained, found = 0, 0, start
    while True:
        left = budget.left_s()
        used = 1.0 - left / begin if isfinite(begin) and begin > 0 else made / MOVES
        proven = found.overdue == 0 and found.late <= late and found.paid <= paid
        if used >= 1.0 or left <= 0 or (proven and made - gained >= IN_VAIN):
            return
        budget.tell(used)
        wander(
            plan,
            best,
            search.anchors.fixed,
            rng.integers(0, _MOST, (BATCH, _DRAWS)),
            rng.random(BATCH),
            HOT * (COLD / HOT) ** used,
            weights,
            arrays.hours,
            arrays.choices,
            arrays.lags,
            arrays.facts,
            arrays.jobs,
        )
        made += BATCH
        new = search.weighed(start.genes, best)
        if new.rank < found.rank:
            found, gained = new, made
            search.best = found
