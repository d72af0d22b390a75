"""How much of the largest departure the coarser grid misses: some floors are checked on both grids."""

from dataclasses import dataclass

import numpy as np

from slab_core.correction.assurance.floors import Sample, as_built, planned, sample
from slab_core.correction.assurance.site import Check, Site, with_ramps_of
from slab_core.correction.model import Plan
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats

MOST_CHECKED, LEAST_CHECKED, CHECKED_M2 = 100, 16, 35.0
"""So many on a floor of that area; fewer on larger ones, where each costs more."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Missed:
    """For every check: by how much the surface's own grid found more, floor by floor, shape (n, checks), and
    as a factor on average, shape (checks,)."""

    more_m: Floats
    scale: Floats

    def error_m(self) -> Floats:
        """Standard error of the mean, shape (checks,)."""
        return np.asarray(self.more_m.std(axis=0, ddof=1) / np.sqrt(len(self.more_m)))

    def some(self, *, count: int, rng: np.random.Generator) -> Floats:
        """So many of them by chance, shape (count, checks)."""
        return np.asarray(self.more_m[rng.integers(0, len(self.more_m), count)])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Finer:
    """A site on the surface's own grid, whose nodes are more than those of the coarser one, and floors drawn
    there, the same for every plan."""

    site: Site
    drawn: Sample


def finer_of(site: Site) -> Finer:
    """So many floors as the site's area allows."""
    area_m2 = site.task.floor.area_m2
    count = int(np.clip(MOST_CHECKED * CHECKED_M2 / area_m2, LEAST_CHECKED, MOST_CHECKED))
    fine = site.every_node()
    return Finer(site=fine, drawn=sample(site=fine, count=count, rng=np.random.default_rng(0)))


def missed(*, site: Site, finer: Finer, plan: Plan, budget: Budget) -> Missed:
    """The plan's floors on both grids; the `site` has the plan's ramps."""
    fine = with_ramps_of(plan, site=finer.site)
    built = as_built(site=fine, plan=planned(site=fine, plan=plan), drawn=finer.drawn)
    count = len(finer.drawn.slab_m)
    on_fine, on_coarse = np.empty((count, len(built))), np.empty((count, len(built)))
    for r, heights in enumerate(built):
        on_fine[:, r] = _largest(fine.checks[r], heights, budget=budget)
        fewer = heights[:, site.on.rows, site.on.columns]
        on_coarse[:, r] = _largest(site.checks[r], fewer, budget=budget)
    mean = on_coarse.mean(axis=0)
    more = np.maximum(on_fine - on_coarse, 0.0)
    scale = 1.0 + more.mean(axis=0) / np.where(mean > 0.0, mean, 1.0)
    return Missed(more_m=more, scale=np.asarray(scale))


def _largest(check: Check, heights_m: Floats, *, budget: Budget) -> Floats:
    found = check.on.of_many(heights_m, rule=check.rule, budget=budget)
    return np.asarray(np.maximum(*found).max(axis=(1, 2)))
