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
    """The probability that would be reached without one cause."""

    cause: Cause
    without: float


def held_by(*, site: Site, plan: Plan, price: AssuredPrice, budget: Budget) -> tuple[Held, ...]:
    """What keeps the floor from passing more surely, most first.

    The same plan on a slab that is as fitted, and by a crew that makes no error but its gauge's.
    """
    exact = PlacingErrors(
        screeded_m=0.0, ground_m=0.0, patched_m=0.0, free_m=0.0, ripple_m=0.0, gauge_m=site.placing.gauge_m
    )
    others: tuple[tuple[Cause, Site], ...] = (
        ("survey", site.known_exactly()),
        ("placing", replace(site, placing=exact)),
    )
    found = []
    for cause, without in others:
        own = with_ramps_of(plan, site=without)
        told = odds(
            site=own,
            plan=planned(site=without, plan=plan),
            missed=missed(site=own, finer=finer_of(without), plan=plan, budget=budget),
            count=DRAWS,
            cycles=price.finish_cycles,
            rng=np.random.default_rng(3),
            budget=budget,
        )
        found.append(Held(cause=cause, without=told.probability(price.finish_cycles)))
    helps = [held for held in found if held.without > price.probability + 2.0 * price.probability_se]
    ordered = sorted(helps, key=lambda held: -held.without)
    return tuple(ordered) or (max(found, key=lambda held: held.without),)


_WORDS: dict[Cause, tuple[str, str]] = {
    "survey": (
        "if the slab were known exactly",
        "measure more closely or with a finer instrument",
    ),
    "placing": (
        "if pins, pours and grinding were exact",
        "set pins closer and with a finer level, or take the rule up with whoever asks for it",
    ),
}


def not_reached(*, floor_id: str, price: AssuredPrice, causes: tuple[Held, ...]) -> Problem:
    """The finding, with what was tried and what would help most."""
    told = " and ".join(f"{held.without:.0%} {_WORDS[held.cause][0]}" for held in causes)
    detail = (
        f"floor {floor_id}: asked to pass all its rules with a probability of {price.asked:.0%}, but the "
        f"surest way found passes with {price.probability:.1%} (standard error {price.probability_se:.1%}): "
        f"planned to {price.planning_share:.0%} of each gap, with {price.finish_cycles} round(s) of "
        f"finishing. It would be {told}. What would help most: {_WORDS[causes[0].cause][1]}."
    )
    return Problem(code="confidence-not-reached", detail=detail, pointer="/options/confidence")
