"""How surely a floor passes once it is corrected, and what that costs. Lengths in metres, money in the
job's currency."""

from dataclasses import dataclass
from typing import Literal

from slab_core.units.lengths import METRES_PER_INCH as INCH_M

Cause = Literal["survey", "placing"]
"""What keeps a floor from passing more surely: what the readings leave unknown, or how well crews place."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacingErrors:
    """Standard deviations of a crew's work (common practice, no single source).

    `screeded_m` is a pin's height, straight between pins; `ground_m` and `patched_m` are how far a spot is
    off as a whole; `free_m` a pour that finds its own level. `ripple_m` lies on all of them and `gauge_m` is
    what an edge with a taper gauge tells to.
    """

    screeded_m: float = INCH_M / 32
    ground_m: float = INCH_M / 32
    patched_m: float = 3 * INCH_M / 64
    free_m: float = INCH_M / 16
    ripple_m: float = INCH_M / 128
    gauge_m: float = 0.0003


@dataclass(frozen=True, slots=True, kw_only=True)
class Confidence:
    """How surely the whole floor shall pass all its rules, and how well the crew places."""

    probability: float
    placing: PlacingErrors = PlacingErrors()


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleMargin:
    """What is left of one rule's gap.

    `margin_m` is the gap less the largest departure of the floor as planned; below 0 the plan fails.
    `margin_as_built_m` is the same with the errors of survey and crew and after the finishing: so much or
    more is left with the probability asked for.
    """

    length_m: float
    gap_m: float
    margin_m: float
    margin_as_built_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AssuredPrice:
    """The cheapest way found to pass with the probability `asked`; the surest one where none does.

    `probability` and its standard error are from draws that had no part in choosing. Planned to
    `planning_share` of every gap, then `finish_cycles` of check, mark, skim or grind. `cost` is the plan's
    with the finishing, `finish_cost` its hours and the patch it takes on the mean of the draws:
    `finish_patch_m3` over `finish_patch_m2` of every round.
    """

    asked: float
    reached: bool
    probability: float
    probability_se: float
    planning_share: float
    finish_cycles: int
    finish_cost: float
    cost: float
    finish_patch_m3: float = 0.0
    finish_patch_m2: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Assurance:
    """How surely the whole floor passes all its rules together, corrected by this plan.

    `chosen` is what the plan is; `prices` are of 80 and 95 %, and `price_of_95` what the second costs more
    than the first; None where either is not reached. `draws` judged each, of which none had a part in
    choosing it. `placing_sd_m` is how far heights are off where the plan works, before finishing (root mean
    square; 0 where it does nothing). `held_by` is what keeps the floor from passing more surely, most
    first: what alone would make a difference, else both where they would together; empty where neither does
    and where what was asked for is reached.
    """

    chosen: AssuredPrice
    prices: tuple[AssuredPrice, ...]
    price_of_95: float | None
    draws: int
    placing: PlacingErrors
    placing_sd_m: float
    margins: tuple[RuleMargin, ...]
    held_by: tuple[Cause, ...] = ()
