"""Trim cut from stock lengths: how often the least is found and proven, and how long that takes.

Instances with a known optimum: pieces cut from whole sticks of 16 ft at random places, kerfs between, so that
nothing is left over (50 lengths and more, once and up to four times), and the classic of 13 widths, whose
optimum is 73. The seeds are other ones than those looked at while the search was written. First fit, longest
first, stands beside it.
"""

import time
from collections.abc import Iterator

import numpy as np

from slab_core.numerics import patterns
from slab_core.numerics.column_generation import Stock
from slab_core.numerics.cutting_search import fill_one_by_one
from slab_core.numerics.cutting_stock import cut_stock
from tests.benchmarks.measure import Figure, measures
from tests.cut_stock import CLASSIC, CLASSIC_OPTIMUM, CLASSIC_STOCK, perfectly_cut

FIRST_SEED, INSTANCES = 950_000, 40
STICK, KERF = 48_768, 30
TYPES = 50

Instance = tuple[tuple[int, ...], int, int, int]
"""Pieces, stock length, kerf, least number of sticks."""


def _instances() -> Iterator[Instance]:
    yield CLASSIC, CLASSIC_STOCK, 0, CLASSIC_OPTIMUM
    for seed in range(INSTANCES):
        rng = np.random.default_rng(FIRST_SEED + seed)
        copies = 4 if seed % 4 == 3 else 1
        pieces, sticks = perfectly_cut(rng, types=TYPES, stock=STICK, kerf=KERF, copies=copies)
        yield pieces, STICK, KERF, sticks


@measures("trim.")
def bench_trim() -> list[Figure]:
    """Shares over all instances, and the processor's seconds of one."""
    patterns.warm()
    seconds, optimal, proven, first_fit = [], [], [], []
    for pieces, stock, kerf, least in _instances():
        start = time.thread_time()
        cutting = cut_stock(stocks=(Stock(length=stock, price=1),), pieces=pieces, kerf=kerf)
        seconds.append(time.thread_time() - start)
        optimal.append(cutting.cost == least)
        proven.append(cutting.proven)
        first_fit.append(_first_fit(pieces, stock=stock, kerf=kerf) == least)
    count = len(seconds)
    return [
        _figure("trim.optimal_share", float(np.mean(optimal)), "1", count, float(np.mean(first_fit))),
        _figure("trim.proven_share", float(np.mean(proven)), "1", count),
        _figure("trim.seconds", float(np.median(seconds)), "s", count),
        _figure("trim.seconds_p90", float(np.quantile(seconds, 0.9)), "s", count),
        _figure("trim.seconds_worst", max(seconds), "s", count),
    ]


def _figure(name: str, value: float, unit: str, n: int, first_fit: float | None = None) -> Figure:
    return Figure(
        name=name,
        value=value,
        unit=unit,
        peer=None if first_fit is None else "first fit, longest first",
        peer_value=first_fit,
        n=n,
        memory_mb=None,
    )


def _first_fit(pieces: tuple[int, ...], *, stock: int, kerf: int) -> int:
    lengths, demands = np.unique(pieces, return_counts=True)
    return len(
        fill_one_by_one(
            stocks=(Stock(length=stock + kerf, price=1),), sizes=lengths[::-1] + kerf, demands=demands[::-1]
        )
    )
