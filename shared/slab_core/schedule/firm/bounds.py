"""What no plan of the firm can beat: lateness if every job were alone, and work with the least travel."""

from __future__ import annotations

from itertools import groupby

import numpy as np

from slab_core.schedule.firm.arrays import Arrays
from slab_core.schedule.firm.kernels import Floats, Whole, earliest_ends


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
    g(v) for each minute at v in V; that must be no more than m L. So g(v) is the least that L is to the
    minutes that one person can work, over all journeys on which v may lie: v alone, or with others. The
    least of all crews' holds for everybody.
    """
    work = _work(arrays)
    places = arrays.facts[0][: arrays.tasks]
    share = np.min([_share(arrays, crew) for crew in range(len(arrays.firm.crews))], axis=0)[places]
    return int(np.floor(work.sum() + (work * share).sum() + 1e-6))


def _share(arrays: Arrays, crew: int) -> Floats:
    """What a crew's minute of work at each site is charged at least for its journeys."""
    sites, travel, home = len(arrays.firm.sites), arrays.facts[6], arrays.facts[8][crew]
    there, back = travel[home, :sites], travel[:sites, home]
    days = _days(arrays, crew)
    alone: Floats = (there + back) / np.maximum(1, _longest_at_site(arrays, crew))
    if sites < 2 or not days:
        return alone
    worked = np.max([_worked(day, there, back) for day in days], axis=0)
    breaks = max(day[-1][1] - sum(until - begin for begin, until in day) for day in days)
    tours = [_least_tour(v, there, back, travel[:sites, :sites], worked, breaks) for v in range(sites)]
    return np.minimum(alone, tours)


def _least_tour(v: int, there: Whole, back: Whole, ways: Whole, worked: Whole, breaks: int) -> float:
    """The least of journey to work on a day at site `v` and others, which is the first of them, the last, or
    between two. `worked` (sites, sites) is left from the first to the last but for the ways between, which
    may be driven in breaks."""
    others = np.delete(np.arange(len(there)), v)
    pairs = np.ix_(others, others)
    legs = there[others][:, np.newaxis] + back[others]
    tours = (
        (there[v] + back[others], ways[v, others], worked[v, others]),
        (there[others] + back[v], ways[others, v], worked[others, v]),
        (legs, ways[others, v][:, np.newaxis] + ways[v, others], worked[pairs]),
    )
    return min(
        float(((home + between) / np.maximum(1, left - np.maximum(0, between - breaks))).min())
        for home, between, left in tours
    )


def _worked(day: tuple[tuple[int, int], ...], there: Whole, back: Whole) -> Whole:
    """Minutes of a day's shifts (sites, sites) once the first site is reached and before the last is left."""
    begin, end = there[:, np.newaxis], day[-1][1] - back
    minutes: Whole = sum(
        (np.maximum(0, np.minimum(until, end) - np.maximum(start, begin)) for start, until in day),
        start=np.zeros((len(there), len(back)), dtype=np.int64),
    )
    return minutes


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


def _days(arrays: Arrays, crew: int) -> list[tuple[tuple[int, int], ...]]:
    """The kinds of days that the crew has: its shifts in minutes from the begin of the first."""
    pointers, begins, ends, days = arrays.hours
    last = (crew + 1) * arrays.facts[6].shape[0] - 1
    of = range(pointers[last], pointers[last + 1])
    kinds = dict[tuple[tuple[int, int], ...], None]()
    for _, group in groupby(of, key=lambda k: days[k]):
        shifts = list(group)
        dawn = begins[shifts[0]]
        kinds[tuple((int(begins[k] - dawn), int(ends[k] - dawn)) for k in shifts)] = None
    return list(kinds)
