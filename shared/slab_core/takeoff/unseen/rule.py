"""What the cheapest floor takes of one plane's bags, by the rule of flatness, where nobody has seen the slab.

A floor brought to one plane takes the same bags under every rule that it breaks; the cheapest one fills what
the rule asks for. The table is an estimate from 48 invented slabs of 20 m² that break every rule in it: whole
bags of the two plans, half a bag added to each. `python -m tests.benchmarks.allowance_shares` recomputes it,
and `bench quote.rule_` looks at it on other slabs. All bags are reckoned as poured, though the cheapest floor
trowels some; hours of grinding were 0.99-1.08 of a plane's up to 1/4 in (standard error 0.07), so a plane's.
"""

from dataclasses import dataclass, replace
from math import log

import numpy as np

from slab_core.takeoff.unseen.plan import Expected
from slab_core.tolerance.model import Rule
from slab_core.units.lengths import METRES_PER_FOOT as FOOT_M
from slab_core.units.lengths import METRES_PER_INCH as INCH_M

USUAL_EDGE_M = 10 * FOOT_M

EDGE_EXPONENT = 0.8
"""A rule of a shorter edge asks for as much as one of 10 ft with a gap that is larger by the ratio of the
edges to this power: so three rules in 6 ft fall onto the table within a tenth (24 to 48 slabs)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CheapestShare:
    """Under a gap in 10 ft: bags and hours of grinding as shares of one plane's (geometric means), and how
    much wider the bags' logarithm is spread from slab to slab (ratio of the standard deviations)."""

    gap_m: float
    bags: float
    spread: float
    hours: float


TABLE = (
    CheapestShare(gap_m=3 * INCH_M / 32, bags=0.91, spread=1.2, hours=1.0),
    CheapestShare(gap_m=1 * INCH_M / 8, bags=0.80, spread=1.3, hours=1.0),
    CheapestShare(gap_m=3 * INCH_M / 16, bags=0.57, spread=1.65, hours=1.0),
    CheapestShare(gap_m=1 * INCH_M / 4, bags=0.40, spread=1.9, hours=1.0),
    CheapestShare(gap_m=3 * INCH_M / 8, bags=0.22, spread=1.8, hours=0.6),
)


def gap_in_10_ft(rule: Rule) -> float:
    """The gap in m under an edge of 10 ft that asks for as much; every kind of rule is taken as both ways."""
    return float(rule.gap_m * (USUAL_EDGE_M / rule.length_m) ** EDGE_EXPONENT)


def share_under(rules: tuple[Rule, ...]) -> CheapestShare | None:
    """By the strictest of the rules, between the table's rows by the logarithm of the gap, beyond them as at
    their ends; None where no straightedge is laid."""
    if not rules:
        return None
    gap_m = min(map(gap_in_10_ft, rules))
    at = np.log([row.gap_m for row in TABLE])

    def between(values: list[float]) -> float:
        return float(np.interp(log(gap_m), at, values))

    return CheapestShare(
        gap_m=gap_m,
        bags=between([row.bags for row in TABLE]),
        spread=between([row.spread for row in TABLE]),
        hours=between([row.hours for row in TABLE]),
    )


def of_the_cheapest(*, expected: Expected, share: CheapestShare) -> Expected:
    """What is believed of the cheapest floor, of what is believed of one plane. The wider spread never leads
    beyond the bags of the plane, which the cheapest one competes with (of 240 plans one took a bag more)."""
    bags, grinding = expected.bags, expected.grinding
    return Expected(
        bags=replace(bags, mean=bags.mean + log(share.bags), sd=bags.sd * share.spread),
        grinding=grinding and replace(grinding, mean=grinding.mean + log(share.hours)),
        most=bags,
    )
