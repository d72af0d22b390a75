"""What no plan of the firm can beat: lateness if every job were alone, and work with the least travel."""

from __future__ import annotations

import numpy as np

from slab_core.schedule.firm_arrays import Arrays
from slab_core.schedule.firm_kernels import Floats, Whole, earliest_ends


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
    g(v) for each minute at v in V; that must be no more than m L. With d the way there and back from home:
    at one site alone W is at most m times the longest that it may work there in a day, T; so g = d / T.
    At several W is at most m (S - L), where S is its longest day with its breaks, through which one may
    drive; and L is at least d + e for any site of V, where e is the least detour that another one costs;
    so g = (d + e) / (S - d - e), as (S - L) / L falls with L. The least of all crews' holds for everybody.
    """
    work = _work(arrays)
    places = arrays.facts[0][: arrays.tasks]
    share = np.min([_share(arrays, crew) for crew in range(len(arrays.firm.crews))], axis=0)[places]
    return int(np.floor(work.sum() + (work * share).sum() + 1e-6))


def _share(arrays: Arrays, crew: int) -> Floats:
    """What a crew's minute of work at each site is charged at least for its journeys."""
    sites, travel, home = len(arrays.firm.sites), arrays.facts[6], arrays.facts[8][crew]
    # A home that is a site stands here twice: whoever sets out from it is there without a detour.
    own = [*range(sites), home]
    there_and_back = (travel[home, :sites] + travel[:sites, home]).astype(float)
    detour, shift = _least_detour(travel[np.ix_(own, own)]), _longest_day(arrays, crew)
    several = (there_and_back + detour) / np.maximum(1, shift - there_and_back - detour)
    alone = there_and_back / np.maximum(1, _longest_at_site(arrays, crew))
    least: Floats = np.minimum(several, alone)
    return least


def _least_detour(travel: Whole) -> int:
    """What a stop at any site adds at least to a journey between two other places, or there and back; home is
    the last place."""
    least = int(travel.max(initial=0))
    for site in range(travel.shape[0] - 1):
        others = np.delete(np.arange(travel.shape[0]), site)
        there, back = travel[others, site], travel[site, others]
        detours = there[:, np.newaxis] + back[np.newaxis, :] - travel[np.ix_(others, others)]
        least = min(least, int(detours.min()))
    return least


def _longest_at_site(arrays: Arrays, crew: int) -> Whole:
    """For each site the most minutes that the crew may work there in a day."""
    pointers, begins, ends, days = arrays.hours
    first = crew * arrays.facts[6].shape[0]
    most: Whole = np.zeros(len(arrays.firm.sites), dtype=np.int64)
    for site in range(len(most)):
        of = slice(pointers[first + site], pointers[first + site + 1])
        if of.start < of.stop:
            _, day = np.unique(days[of], return_inverse=True)
            most[site] = int(np.bincount(day, weights=ends[of] - begins[of]).max())
    return most


def _work(arrays: Arrays) -> Whole:
    """Least person-minutes of each task."""
    pointers, _, people, minutes = arrays.choices
    least: Whole = np.minimum.reduceat(people * minutes, pointers[:-1])
    return least


def _longest_day(arrays: Arrays, crew: int) -> int:
    """Minutes from the begin of the first to the end of the last shift on the crew's longest day."""
    pointers, begins, ends, days = arrays.hours
    last = (crew + 1) * arrays.facts[6].shape[0] - 1
    shifts = slice(pointers[last], pointers[last + 1])
    longest, first = 0, dict[int, int]()
    for day, begin, end in zip(days[shifts], begins[shifts], ends[shifts], strict=True):
        longest = max(longest, int(end) - first.setdefault(int(day), int(begin)))
    return longest
