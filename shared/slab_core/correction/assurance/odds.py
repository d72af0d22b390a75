"""How many of many drawn floors pass all their rules, after each round of finishing."""

from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np

from slab_core.correction.assurance.finish import MOST_CYCLES, Floors
from slab_core.correction.assurance.floors import Planned, sample
from slab_core.correction.assurance.missed import Missed
from slab_core.correction.assurance.site import Site
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import HEIGHT_STEP_M, Floats

AT_ONCE = 400_000
"""Nodes of draws that are held at the same time."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Odds:
    """`over_m` is each floor's largest departure less its rule's gap, shape (draws, rounds + 1, checks);
    `unsure_m` the standard error of what the coarser grid misses of it, shape (checks,). `skimmed_m3` and
    `skimmed_m2` are what was put on up to a round, the mean of the draws, shape (rounds + 1,)."""

    over_m: Floats
    unsure_m: Floats
    skimmed_m3: Floats
    skimmed_m2: Floats

    @property
    def cycles(self) -> int:
        """The rounds of finishing that were looked at."""
        return int(self.over_m.shape[1]) - 1

    def probability(self, cycles: int) -> float:
        """Of passing every rule together after so many rounds of finishing."""
        return self._share(cycles, more_m=np.zeros_like(self.unsure_m))

    def error(self, cycles: int) -> float:
        """Standard error of that, by the number of floors (of none or all of n, as if one half more had come
        out the other way) and by what the coarser grid misses."""
        n, passed = len(self.over_m), self.probability(cycles) * len(self.over_m)
        share = (passed + 0.5) / (n + 1.0)
        apart = self._share(cycles, more_m=-self.unsure_m) - self._share(cycles, more_m=self.unsure_m)
        return hypot(sqrt(share * (1.0 - share) / n), apart / 2.0)

    def left_m(self, *, cycles: int, probability: float) -> tuple[float, ...]:
        """What is left of each rule's gap, or more, with this probability."""
        return tuple(float(-v) for v in np.quantile(self.over_m[:, cycles], probability, axis=0))

    def _share(self, cycles: int, *, more_m: Floats) -> float:
        passes = (self.over_m[:, cycles] + more_m <= HEIGHT_STEP_M).all(axis=1)
        return float(passes.mean())


def odds(
    *,
    site: Site,
    plan: Planned,
    missed: Missed,
    count: int,
    cycles: int,
    rng: np.random.Generator,
    budget: Budget,
) -> Odds:
    """`count` floors, each finished up to `cycles` times, MOST_CYCLES at the most. The same state of `rng`
    gives the same slabs and errors whatever the plan and however many rounds.

    Raises
    ------
    Stopped
        when the budget says so, between checks.
    """
    gaps = np.array([check.rule.gap_m for check in site.checks])
    over = np.empty((count, cycles + 1, len(gaps)))
    skimmed = np.zeros((2, cycles + 1))
    size = max(1, AT_ONCE // site.on.inside.size)
    for first in range(0, count, size):
        here = min(size, count - first)
        draws, finer, *rounds = rng.spawn(2 + MOST_CYCLES)
        drawn = sample(site=site, count=here, rng=draws)
        floors = Floors(site=site, plan=plan, missed=missed, drawn=drawn, rng=finer, budget=budget)
        for cycle in range(cycles + 1):
            if cycle:
                floors.finish(rounds[cycle - 1])
            over[first : first + here, cycle] = floors.largest_m() - gaps
            skimmed[:, cycle] += np.sum(floors.skimmed, axis=1) / count
    return Odds(over_m=over, unsure_m=missed.error_m(), skimmed_m3=skimmed[0], skimmed_m2=skimmed[1])
