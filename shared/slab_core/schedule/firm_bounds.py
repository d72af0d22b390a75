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

    Of a crew that is out with m people for a day at sites V, on a journey of L, the work W is charged
    g(v) for each minute at v in V; that must be no more than m L. With d the way there and back:
    at one site alone W is at most m times the longest that anybody may work there in a day, T; so g = d / T.
    At several W is at most m (S - L), where S is the longest day with its breaks, through which one may
    drive; and L is at least d + e for any site of V, where e is the least detour that another one costs;
    so g = (d + e) / (S - d - e), as (S - L) / L falls with L. The lesser of the two holds for both.
    """
    work = _work(arrays)
    places = arrays.facts[0][: arrays.tasks]
    travel = arrays.facts[6]
    there_and_back = (travel[-1, :] + travel[:, -1])[places].astype(float)
    detour, shift = _least_detour(travel), _longest_day(arrays)
    several = (there_and_back + detour) / np.maximum(1, shift - there_and_back - detour)
    alone = there_and_back / np.maximum(1, _longest_at_site(arrays)[places])
    return int(np.floor(work.sum() + (work * np.minimum(several, alone)).sum() + 1e-6))


def _least_detour(travel: Whole) -> int:
    """What a stop at any site adds at least to a journey between two other places, or there and back."""
    least = int(travel.max(initial=0))
    for site in range(travel.shape[0] - 1):
        others = np.delete(np.arange(travel.shape[0]), site)
        there, back = travel[others, site], travel[site, others]
        detours = there[:, np.newaxis] + back[np.newaxis, :] - travel[np.ix_(others, others)]
        least = min(least, int(detours.min()))
    return least


def _longest_at_site(arrays: Arrays) -> Whole:
    """For each place the most minutes that any crew may work there in a day."""
    pointers, begins, ends, days = arrays.hours
    places = arrays.facts[6].shape[0]
    most: Whole = np.zeros(places, dtype=np.int64)
    for pair in range(len(pointers) - 1):
        of = slice(pointers[pair], pointers[pair + 1])
        if of.start < of.stop:
            _, day = np.unique(days[of], return_inverse=True)
            minutes = np.bincount(day, weights=ends[of] - begins[of])
            most[pair % places] = max(most[pair % places], int(minutes.max()))
    return most


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
