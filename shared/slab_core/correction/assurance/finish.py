"""The finishing loop under a tight rule: lay the edge everywhere, mark, grind highs, skim lows, again.

A crew acts where its gauge shows almost the gap, and then takes the spot down to half of it, a little more
or less, and runs out around it. What the gauge misses stays. Common practice, no single source; the shares
are ours.
"""

from typing import NamedTuple

import numpy as np
from scipy import ndimage

from slab_core.correction.assurance.floors import Planned, Sample, as_built
from slab_core.correction.assurance.missed import Missed
from slab_core.correction.assurance.site import Site
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Mask
from slab_core.surface.waves import Waves, waves_over
from slab_core.tolerance.model import Rule

MOST_CYCLES = 3
"""Crews go round one to three times."""

GAUGE_KNOT_M = 0.5
"""One look at the gauge tells one spot."""

SPOT_REACH_M = 0.9
"""A spot is worked about so far around where it was marked, less and less outwards."""

TAKEN_TO = 0.5
"""What is left on purpose of what a spot is marked for: an edge laid across meets the next spot too."""

WORK_SHARE = 0.25
"""Standard deviation of what is taken off or put on, as a share of it; the gauge's misreading adds to it."""

GAP, RISE = 0, 1


def spots_on(site: Site) -> Waves:
    """Errors of unit size that are alike over one spot."""
    return waves_over(site.on.grid, sd_m=np.ones(site.on.inside.shape), knot_m=GAUGE_KNOT_M)


class Skimmed(NamedTuple):
    """What was put on each floor so far: cubic metres, and square metres of every round; shape (count,)."""

    m3: Floats
    m2: Floats

    def and_also(self, change_m: Floats, *, node_m2: float) -> "Skimmed":
        """With another round's `change_m`, shape (count, ny, nx)."""
        volume, area = change_m.sum(axis=(1, 2)), (change_m > 0.0).sum(axis=(1, 2))
        return Skimmed(self.m3 + node_m2 * volume, self.m2 + node_m2 * area)


class Floors:
    """Drawn floors, and how their finishing goes on."""

    def __init__(
        self, *, site: Site, plan: Planned, missed: Missed, drawn: Sample, rng: np.random.Generator,
        budget: Budget,
    ) -> None:  # fmt: skip
        built_m = as_built(site=site, plan=plan, drawn=drawn)
        self.site, self.plan, self.missed, self.built, self.budget = site, plan, missed, built_m, budget
        self.more = missed.some(count=len(built_m[0]), rng=rng)
        self.spots = spots_on(site)
        self.done = np.zeros_like(built_m[0])
        self.skimmed = Skimmed(*np.zeros((2, len(self.done))))
        self.sides = [self._check(r, np.ones(len(self.done), dtype=np.bool_)) for r in range(len(built_m))]

    def largest_m(self) -> Floats:
        """The largest departures, with what the coarser grid misses, shape (count, checks)."""
        seen = np.stack([np.maximum(*sides).max(axis=(1, 2)) for sides in self.sides], axis=1)
        return np.asarray(seen + self.more)

    def finish(self, rng: np.random.Generator) -> None:
        """Go round once: highs first, then what is still low."""
        highs, lows, between = rng.spawn(3)
        self._find_missed(between)
        self._take(side=RISE, rng=highs)
        if self.plan.may_fill.any():
            self._take(side=GAP, rng=lows)

    def _check(self, r: int, which: Mask) -> tuple[Floats, Floats]:
        heights, check = self.built[r][which] + self.done[which], self.site.checks[r]
        return check.on.of_many(heights, rule=check.rule, budget=self.budget)

    def _find_missed(self, rng: np.random.Generator) -> None:
        """A crew lays its edge between the nodes too."""
        read = self.largest_m() + self._shown() * rng.standard_normal(self.more.shape)
        act_at = np.array([self._act_at(check.rule) for check in self.site.checks])
        self.more = np.where(read > act_at, TAKEN_TO * self.more, self.more)

    def _shown(self) -> float:
        return self.site.placing.gauge_m

    def _act_at(self, rule: Rule) -> float:
        return max(rule.gap_m - self._shown(), rule.gap_m / 2)

    def _take(self, *, side: int, rng: np.random.Generator) -> None:
        looks, works = rng.spawn(2)
        count = len(self.done)
        misread = self._shown() * self.spots.draws(count=count, rng=looks)
        amount = np.zeros_like(self.done)
        for check, found, scale in zip(self.site.checks, self.sides, self.missed.scale, strict=True):
            read = np.where(check.on.inside, scale * found[side] + misread, 0.0)
            amount = np.maximum(
                amount, _marked(read, act_at=self._act_at(check.rule), step_m=self.site.on.grid.step_m)
            )
        amount = np.where(self.plan.may_grind if side == RISE else self.plan.may_fill, amount, 0.0)
        off = self.spots.draws(count=count, rng=works)
        change = amount * np.maximum(1.0 + WORK_SHARE * off, 0.0)
        self.done = self.done + (change if side == GAP else -change)
        if side == GAP:
            self.skimmed = self.skimmed.and_also(change, node_m2=self.site.on.grid.step_m**2)
        changed = np.asarray(amount.any(axis=(1, 2)), dtype=np.bool_)
        if not changed.any():
            return
        for r, sides in enumerate(self.sides):
            for old, new in zip(sides, self._check(r, changed), strict=True):
                old[changed] = new


def _marked(read_m: Floats, *, act_at: float, step_m: float) -> Floats:
    """What to take off at each node: where it reads more than `act_at`, and less and less around there."""
    over, taken = read_m > act_at, np.zeros_like(read_m)
    marked = over.any(axis=(1, 2))
    if not marked.any():
        return taken
    # Floors lie far apart, so that no spot of one reaches into another.
    away = ndimage.distance_transform_edt(~over[marked], sampling=(1e3, step_m, step_m))
    fading = np.clip(1.0 - away / SPOT_REACH_M, 0.0, 1.0)
    taken[marked] = fading * np.maximum(read_m[marked] - TAKEN_TO * act_at, 0.0)
    return taken
