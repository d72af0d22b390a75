"""How much of the largest departure the coarser grid misses: some floors are checked on both grids."""

from dataclasses import dataclass, replace

import numpy as np

from slab_core.correction.assurance.floors import Sample, Site, as_built, planned, sample
from slab_core.correction.model import Plan
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats
from slab_core.tolerance.coarse import Coarse, coarse

MOST_CHECKED, LEAST_CHECKED, CHECKED_M2 = 100, 16, 35.0
"""So many on a floor of that area; fewer on larger ones, where each costs more."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Missed:
    """For every rule: by how much the surface's own grid found more, floor by floor, shape (n, rules), and
    as a factor on average, shape (rules,)."""

    more_m: Floats
    scale: Floats

    def error_m(self) -> Floats:
        """Standard error of the mean, shape (rules,)."""
        return np.asarray(self.more_m.std(axis=0, ddof=1) / np.sqrt(len(self.more_m)))

    def some(self, *, count: int, rng: np.random.Generator) -> Floats:
        """So many of them by chance, shape (count, rules)."""
        return np.asarray(self.more_m[rng.integers(0, len(self.more_m), count)])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Finer:
    """A site on the surface's own grid, whose nodes are more than those of the coarser one, and floors drawn
    there, the same for every plan."""

    site: Site
    drawn: Sample


def finer_of(site: Site) -> Finer:
    """So many floors as the site's area allows."""
    task = site.task
    count = int(np.clip(MOST_CHECKED * CHECKED_M2 / task.floor.area_m2, LEAST_CHECKED, MOST_CHECKED))
    fine = replace(site, on=coarse(floor=task.floor, surface=task.surface, stride=1))
    return Finer(site=fine, drawn=sample(site=fine, count=count, rng=np.random.default_rng(0)))


def missed(*, site: Site, finer: Finer, plan: Plan, budget: Budget) -> Missed:
    """The plan's floors on both grids."""
    task, fine = site.task, finer.site
    built = as_built(site=fine, plan=planned(site=fine, plan=plan), drawn=finer.drawn)
    count = len(finer.drawn.slab_m)
    on_fine, on_coarse = np.empty((count, len(task.rules))), np.empty((count, len(task.rules)))
    for r, heights in enumerate(built):
        on_fine[:, r] = _largest(fine.on, heights, site=site, r=r, budget=budget)
        fewer = heights[:, site.on.rows, site.on.columns]
        on_coarse[:, r] = _largest(site.on, fewer, site=site, r=r, budget=budget)
    mean = on_coarse.mean(axis=0)
    more = np.maximum(on_fine - on_coarse, 0.0)
    scale = 1.0 + more.mean(axis=0) / np.where(mean > 0.0, mean, 1.0)
    return Missed(more_m=more, scale=np.asarray(scale))


def _largest(on: Coarse, heights_m: Floats, *, site: Site, r: int, budget: Budget) -> Floats:
    found = on.of_many(heights_m, rule=site.task.rules[r], budget=budget)
    return np.asarray(np.maximum(*found).max(axis=(1, 2)))
