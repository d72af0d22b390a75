"""What is said when benchmarks and sights contradict each other."""

from dataclasses import dataclass
from math import sqrt

import numpy as np

from slab_core.errors import Problem
from slab_core.numerics.grid import Floats
from slab_core.rooms.wording import length, refusal
from slab_core.surveys.agreement import ALLOWED_SD, beyond, chi_square_beyond
from slab_core.surveys.leveling import Adjusted, Difference

_TIED = 1e-6
_MOST_NAMES = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """A height difference with its name for a person and its place in the job."""

    difference: Difference
    name: str
    pointer: str


def disagreement(*, observations: tuple[Observation, ...], adjusted: Adjusted) -> Problem | None:
    """A refusal if the adjusted observations contradict each other beyond their accuracy at 99.9 %.

    Either all of them together (chi-square of the weighted residuals) or the worst alone (its
    normalised residual, as one of so many).
    """
    sd = np.array([observation.difference.sd_m for observation in observations])
    checked = adjusted.redundancy > 0
    if adjusted.degrees_of_freedom <= 0 or not checked.any():
        return None
    own_sd = np.where(checked, sd * np.sqrt(adjusted.redundancy), 1.0)
    normalised = np.where(checked, np.abs(adjusted.residual_m) / own_sd, 0.0)
    spread = float(np.sum((adjusted.residual_m / sd) ** 2))
    unlikely = chi_square_beyond(value=spread, degrees_of_freedom=adjusted.degrees_of_freedom) < 0.001
    if not unlikely and not beyond(normalised=float(normalised.max()), count=int(checked.sum())):
        return None
    return _problem(observations, adjusted=adjusted, sd=sd, normalised=normalised)


def _problem(
    observations: tuple[Observation, ...], *, adjusted: Adjusted, sd: Floats, normalised: Floats
) -> Problem:
    worst = np.flatnonzero(normalised >= normalised.max() * (1 - _TIED)).tolist()
    first = worst[0]
    share = float(adjusted.redundancy[first])
    # An error shows in its own residual only by its share of redundancy: this is its full size.
    amount = abs(float(adjusted.residual_m[first])) / share
    allowed = ALLOWED_SD * float(sd[first]) / sqrt(share)
    more = f" and {len(worst) - _MOST_NAMES} more" if len(worst) > _MOST_NAMES else ""
    names = " and ".join(observations[i].name for i in worst[:_MOST_NAMES]) + more
    told = "contradict each other" if len(worst) > 1 else "contradicts the rest of the levels"
    detail = (
        f"{names} {told} by {length(amount)}, where their accuracy allows {length(allowed)} (99.9 %); "
        "read them again, correct the height, or leave one out"
    )
    return refusal(code="benchmarks-disagree", detail=detail, pointer=observations[first].pointer)
