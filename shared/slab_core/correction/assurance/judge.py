"""Ways to correct a floor, judged on draws that had no part in choosing them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from slab_core.correction.assurance.finish import MOST_CYCLES
from slab_core.correction.assurance.floors import Planned
from slab_core.correction.assurance.missed import Missed
from slab_core.correction.assurance.odds import Odds, odds
from slab_core.correction.assurance.site import Site
from slab_core.correction.assurance_model import AssuredPrice
from slab_core.correction.model import Plan
from slab_core.correction.pending import Pending
from slab_core.numerics.budget import Budget

TRIED = 3
"""Ways that seemed sure enough while choosing and are judged, cheapest first."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tried:
    """One plan for a share of the gaps, as it seemed on the draws for choosing; the `site` has its ramps."""

    pending: Pending
    site: Site
    on: Planned
    missed: Missed
    share: float
    seemed: Odds

    @property
    def plan(self) -> Plan:
        return self.pending.plan


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Way:
    """One of the plans with so many rounds of finishing."""

    tried: Tried
    cycles: int
    cost: float
    finish_cost: float

    def seemed(self) -> float:
        return self.tried.seemed.probability(self.cycles)

    def skimmed(self) -> tuple[float, float]:
        """Cubic and square metres that finishing puts on."""
        seemed = self.tried.seemed
        return float(seemed.skimmed_m3[self.cycles]), float(seemed.skimmed_m2[self.cycles])


class Judge:
    """Every plan on the same draws, and no more rounds of finishing than are asked about.

    `sure` are ways that will be judged whatever comes out: a plan is judged at once for the most rounds of
    its own among them, and for all rounds where more turn out to be asked about.
    """

    def __init__(self, *, count: int, budget: Budget, sure: Sequence[Way] = ()) -> None:
        self.count, self.budget = count, budget
        self.known: dict[int, Odds] = {}
        self.first: dict[int, int] = {}
        for way in sure:
            key = id(way.tried)
            self.first[key] = max(way.cycles, self.first.get(key, 0))

    def odds(self, way: Way) -> Odds:
        """Of the way's plan, up to its rounds or further."""
        tried, key = way.tried, id(way.tried)
        known = self.known.get(key)
        if known is not None and known.cycles >= way.cycles:
            return known
        first = self.first.get(key, way.cycles) if known is None else MOST_CYCLES
        self.known[key] = odds(
            site=tried.site, plan=tried.on, missed=tried.missed, count=self.count,
            cycles=max(first, way.cycles), rng=np.random.default_rng(2), budget=self.budget,
        )  # fmt: skip
        return self.known[key]

    def chosen(self, ways: Sequence[Way], *, asked: float) -> Way:
        """The first that is judged sure enough, or the surest where none is."""
        for way in ways:
            if self.odds(way).probability(way.cycles) >= asked:
                return way
        return max(ways, key=lambda way: self.odds(way).probability(way.cycles))

    def price(self, way: Way, *, asked: float) -> AssuredPrice:
        found, (m3, m2) = self.odds(way), way.skimmed()
        probability = found.probability(way.cycles)
        return AssuredPrice(
            asked=asked,
            reached=probability >= asked,
            probability=probability,
            probability_se=found.error(way.cycles),
            planning_share=way.tried.share,
            finish_cycles=way.cycles,
            finish_cost=way.finish_cost,
            cost=way.cost,
            finish_patch_m3=m3,
            finish_patch_m2=m2,
        )


def worth_judging(ways: Sequence[Way], *, asked: float) -> list[Way]:
    """The cheapest that seemed sure enough, cheapest first; where none did, the one that seemed surest."""
    by_cost = sorted(ways, key=lambda way: way.cost)
    return [way for way in by_cost if way.seemed() >= asked][:TRIED] or [max(by_cost, key=Way.seemed)]
