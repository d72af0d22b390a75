"""What the cheapest floor takes of one plane's bags and hours, by the rule of flatness, on invented slabs.

`python -m tests.benchmarks.allowance_shares` recomputes the table of takeoff/unseen/rule.py from the slabs
that it was taken from; it takes some ten minutes of one core.
"""

import sys
from collections.abc import Iterable
from typing import NamedTuple

import numpy as np

from slab_core.numerics.grid import Floats
from slab_core.stages import CHEAPEST, PLANE
from slab_core.tolerance.model import Rule
from slab_core.units.lengths import METRES_PER_FOOT as FOOT_M
from slab_core.units.lengths import METRES_PER_INCH as INCH_M
from tests.invented_floors import Work, rectangle, work
from tests.real_slabs import real_slab

WIDTH_M, DEPTH_M = 4.0, 5.0
RULES = {
    "3_32nds_in_10ft": (10.0, 3 / 32),
    "8th_in_10ft": (10.0, 1 / 8),
    "3_16ths_in_10ft": (10.0, 3 / 16),
    "4th_in_10ft": (10.0, 1 / 4),
    "3_8ths_in_10ft": (10.0, 3 / 8),
    "8th_in_6ft": (6.0, 1 / 8),
    "3_16ths_in_6ft": (6.0, 3 / 16),
    "4th_in_6ft": (6.0, 1 / 4),
}
"""Edge in feet and gap in inches."""

TABLE_SLABS = tuple((seed, k) for seed in (91, 92) for k in range(24))
NONE = np.array([0.5, 0.1])
"""Half a bag and six minutes are added, so that a plan without either has a logarithm."""


class Shares(NamedTuple):
    """Of one plane's bags and hours: geometric means, and how much wider bags are spread."""

    bags: float
    hours: float
    spread: float


def rule_of(name: str) -> Rule:
    """One of RULES, both ways."""
    feet, inches = RULES[name]
    return Rule(length_m=feet * FOOT_M, gap_m=inches * INCH_M)


def of_one_plane(slabs: Iterable[tuple[int, int]]) -> Floats:
    """Logarithms of bags and hours of the cheapest plane, which all these slabs need, shape (n, 2)."""
    return _logs(slabs, alternate=PLANE, rule=rule_of("3_16ths_in_10ft"))


def shares(slabs: Iterable[tuple[int, int]], *, rule: Rule, plane: Floats) -> Shares:
    """What the cheapest floor takes of that; `plane` are the planes' logarithms of the same slabs."""
    cheapest = _logs(slabs, alternate=CHEAPEST, rule=rule)
    bags, hours = np.exp((cheapest - plane).mean(axis=0)).tolist()
    spread = float(cheapest[:, 0].std(ddof=1) / plane[:, 0].std(ddof=1))
    return Shares(bags=bags, hours=hours, spread=spread)


def _logs(slabs: Iterable[tuple[int, int]], *, alternate: str, rule: Rule) -> Floats:
    plans = (_work(slab, rule).plan(alternate) for slab in slabs)
    return np.log([np.array([plan.bags, plan.grinder_hours]) + NONE for plan in plans])


def _work(slab: tuple[int, int], rule: Rule) -> Work:
    real = real_slab(rng=np.random.default_rng(slab), width_m=WIDTH_M, depth_m=DEPTH_M)
    floor = rectangle(width_m=WIDTH_M, length_m=DEPTH_M)
    return work(floor=floor, height_m=real.slab.height, columns=40, rules=(rule,))


def main() -> int:
    """Print the table."""
    plane = of_one_plane(TABLE_SLABS)
    for name in RULES:
        found = shares(TABLE_SLABS, rule=rule_of(name), plane=plane)
        sys.stdout.write(
            f"{name}: bags {found.bags:.3f}, spread {found.spread:.2f}, hours {found.hours:.2f}\n"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
