"""What no plan of the firm can beat: lateness if every job were alone, and work with the least travel."""

from __future__ import annotations

import numpy as np

from slab_core.schedule.firm_arrays import Arrays
from slab_core.schedule.firm_kernels import Whole, earliest_ends


def least_late(arrays: Arrays, fixed: Whole) -> int | None:
    """Minutes late, summed over jobs, if crews and machines were endless; None when the hours end first."""
    ends = np.zeros(arrays.tasks, dtype=np.int64)
    if not earliest_ends(fixed, arrays.hours, arrays.choices, arrays.lags, arrays.facts, ends):
        return None
    pointers, promised, _ = arrays.jobs
    finishes = np.maximum.reduceat(ends, pointers[:-1])
    return int(np.where(promised >= 0, np.maximum(0, finishes - promised), 0).sum())


def least_paid(arrays: Arrays) -> int:
    """Person-minutes paid at least: the work of every task in its cheapest way, and for each site its share
    of whole days' journeys.

    Who is at sites V on a day drives at least the longest way there and back among them, D, and so works at
    most S - D, where S is the longest day with its breaks, through which one may drive. Work w at a site with
    the way d is charged w d / (S - d): over the day's sites that adds up to no more than D, for d / (S - d)
    grows with d.
    """
    work = _work(arrays)
    places = arrays.facts[0][: arrays.tasks]
    travel = arrays.facts[6]
    there_and_back = (travel[-1, :] + travel[:, -1])[places]
    shift = _longest_day(arrays)
    share = there_and_back / np.maximum(1, shift - there_and_back)
    return int(np.floor(work.sum() + (work * share).sum() + 1e-6))


def _work(arrays: Arrays) -> Whole:
    """Least person-minutes of each task."""
    pointers, _, people, minutes = arrays.choices
    least: Whole = np.minimum.reduceat(people * minutes, pointers[:-1])
    return least


def _longest_day(arrays: Arrays) -> int:
    """Minutes from the begin of the first to the end of the last shift on the longest day of any crew."""
    pointers, begins, ends, days = arrays.hours
    places, longest = arrays.facts[6].shape[0], 0
    for crew in range(len(arrays.firm.crews)):
        yard = slice(pointers[crew * places + places - 1], pointers[crew * places + places])
        first: dict[int, int] = {}
        for day, begin, end in zip(days[yard], begins[yard], ends[yard], strict=True):
            longest = max(longest, int(end) - first.setdefault(int(day), int(begin)))
    return longest
