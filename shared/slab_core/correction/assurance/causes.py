"""Why a floor cannot be made to pass more surely, and what would help, in words."""

from dataclasses import dataclass, replace

import numpy as np

from slab_core.correction.assurance.floors import planned
from slab_core.correction.assurance.missed import finer_of, missed
from slab_core.correction.assurance.odds import odds
from slab_core.correction.assurance.site import Site, with_ramps_of
from slab_core.correction.assurance_model import AssuredPrice, Cause, PlacingErrors
from slab_core.correction.model import Plan
from slab_core.errors import Problem
from slab_core.numerics.budget import Budget

DRAWS = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """The probability that would be reached without these causes."""

    causes: tuple[Cause, ...]
    without: float


def held_by(*, site: Site, plan: Plan, price: AssuredPrice, budget: Budget) -> tuple[Held, ...]:
    """What keeps the floor from passing more surely, most first; both causes as one where neither alone would
    make a difference, nothing where not even both would.

    The same plan on a slab that is as fitted, and by a crew that makes no error but its gauge's.
    """
    exact = PlacingErrors(
        screeded_m=0.0, ground_m=0.0, patched_m=0.0, free_m=0.0, ripple_m=0.0, gauge_m=site.placing.gauge_m
    )
    known = site.known_exactly()
    others: tuple[tuple[tuple[Cause, ...], Site], ...] = (
        (("survey",), known),
        (("placing",), replace(site, placing=exact)),
        (("survey", "placing"), replace(known, placing=exact)),
    )

    def helping(causes: tuple[Cause, ...], without: Site) -> list[Held]:
        probability = _probability(site=without, plan=plan, cycles=price.finish_cycles, budget=budget)
        helps = probability > price.probability + 2.0 * price.probability_se
        return [Held(causes=causes, without=probability)] if helps else []

    alone = [held for causes, without in others[:2] for held in helping(causes, without)]
    return tuple(sorted(alone, key=lambda held: -held.without)) or tuple(helping(*others[2]))


def _probability(*, site: Site, plan: Plan, cycles: int, budget: Budget) -> float:
    """Of the plan on this site, on draws of its own."""
    own = with_ramps_of(plan, site=site)
    told = odds(
        site=own,
        plan=planned(site=site, plan=plan),
        missed=missed(site=own, finer=finer_of(site), plan=plan, budget=budget),
        count=DRAWS,
        cycles=cycles,
        rng=np.random.default_rng(3),
        budget=budget,
    )
    return told.probability(cycles)


_IF: dict[Cause, str] = {
    "survey": "the slab were known exactly",
    "placing": "pins, pours and grinding were exact",
}
_HELPS: dict[Cause, str] = {
    "survey": "measure more closely or with a finer instrument",
    "placing": "set pins closer and with a finer level, or take the rule up with whoever asks for it",
}


def not_reached(*, floor_id: str, price: AssuredPrice, causes: tuple[Held, ...]) -> Problem:
    """The finding, with what was tried and what would help most."""
    detail = (
        f"floor {floor_id}: asked to pass all its rules with a probability of {price.asked:.0%}, but the "
        f"surest way found passes with {price.probability:.1%} (standard error {price.probability_se:.1%}): "
        f"planned to {price.planning_share:.0%} of each gap, with {price.finish_cycles} round(s) of "
        f"finishing. {_what_helps(causes)}"
    )
    return Problem(code="confidence-not-reached", detail=detail, pointer="/options/confidence")


def _what_helps(causes: tuple[Held, ...]) -> str:
    if not causes:
        return (
            f"It would be no more if {' and '.join(_IF.values())}: what the plan leaves and a gauge tells to "
            "takes the rule. What would help: a finer gauge, or to take the rule up with whoever asks for it."
        )
    told = " and ".join(
        f"{held.without:.0%} if {' and '.join(_IF[cause] for cause in held.causes)}" for held in causes
    )
    if len(causes[0].causes) > 1:
        both = ", and ".join(_HELPS[cause] for cause in causes[0].causes)
        return f"It would be {told}, but no more with one of the two alone. What would help: {both}."
    return f"It would be {told}. What would help most: {_HELPS[causes[0].causes[0]]}."
