"""What is said when benchmarks and sights contradict each other."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np

from slab_core.errors import Problem
from slab_core.numerics.grid import Floats
from slab_core.rooms.wording import length, refusal
from slab_core.surveys.agreement import (
    ALLOWED_SD,
    DOUBTED_BELOW,
    DOUBTED_SD,
    REFUSED_BELOW,
    chi_square_beyond,
    largest_beyond,
)
from slab_core.surveys.leveling import Adjusted, Difference

_TIED = 1e-6
_MOST_NAMES = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """A height difference with its name for a person, the setups that made it and its place in the job."""

    difference: Difference
    name: str
    setups: tuple[str, ...]
    pointer: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Leftovers:
    """Per observation its normalised residual (0 where nothing checks it), and of all together how many
    times larger they are than their accuracy explains."""

    normalised: Floats
    times: float
    chance: float


def disagreement(*, observations: tuple[Observation, ...], adjusted: Adjusted) -> Problem | None:
    """What is wrong with adjusted observations that contradict each other, if they do.

    Either all of them together (chi-square of the weighted residuals) or the worst alone (its
    normalised residual, as one of so many). What chance makes in fewer than one of 1,000 networks is
    a refusal, since the network does not close within its stated accuracy; in fewer than one of 100, a
    finding.
    """
    if adjusted.degrees_of_freedom <= 0 or not (adjusted.redundancy > 0).any():
        return None
    found = _leftovers(observations, adjusted=adjusted)
    if found.chance >= DOUBTED_BELOW:
        return None
    worst = np.flatnonzero(found.normalised >= found.normalised.max() * (1 - _TIED)).tolist()
    refused = found.chance < REFUSED_BELOW
    miss = _miss(observations, adjusted=adjusted, found=found, worst=worst, refused=refused)
    repair = f"{_again([observations[i] for i in worst])}, correct the height, or leave one out"
    pointer = observations[worst[0]].pointer
    if refused:
        return refusal(code="benchmarks-disagree", detail=f"{miss}; {repair}", pointer=pointer)
    detail = f"{miss}; the adjusted heights are used: to be sure, {repair}"
    return Problem(code="network-closes-poorly", detail=detail, pointer=pointer)


def _leftovers(observations: tuple[Observation, ...], *, adjusted: Adjusted) -> _Leftovers:
    sd = np.array([observation.difference.sd_m for observation in observations])
    checked = adjusted.redundancy > 0
    own_sd = np.where(checked, sd * np.sqrt(adjusted.redundancy), 1.0)
    normalised = np.where(checked, np.abs(adjusted.residual_m) / own_sd, 0.0)
    freedom = adjusted.degrees_of_freedom
    spread = float(np.sum((adjusted.residual_m / sd) ** 2))
    together = chi_square_beyond(value=spread, degrees_of_freedom=freedom)
    alone = largest_beyond(normalised=float(normalised.max()), count=int(checked.sum()))
    return _Leftovers(normalised=normalised, times=sqrt(spread / freedom), chance=min(together, alone))


def _miss(
    observations: tuple[Observation, ...],
    *,
    adjusted: Adjusted,
    found: _Leftovers,
    worst: Sequence[int],
    refused: bool,
) -> str:
    """How much is missed, and how much the accuracy allows."""
    first = worst[0]
    share = float(adjusted.redundancy[first])
    # An error shows in its own residual only by its share of redundancy: this is its full size.
    amount = abs(float(adjusted.residual_m[first])) / share
    limit, level = (ALLOWED_SD, "99.9 %") if refused else (DOUBTED_SD, "99 %")
    names = _named([observations[i].name for i in worst])
    if found.normalised[first] < limit:
        return (
            f"the sights do not close: together they leave over {found.times:.1f} times what their accuracy "
            f"explains ({level}), most of it, {length(amount)}, at {names}"
        )
    allowed = limit * observations[first].difference.sd_m / sqrt(share)
    told = "contradict each other" if len(worst) > 1 else "contradicts the rest of the levels"
    return f"{names} {told} by {length(amount)}, where their accuracy allows {length(allowed)} ({level})"


def _again(worst: list[Observation]) -> str:
    setups = dict.fromkeys(f"“{setup}”" for observation in worst for setup in observation.setups)
    return f"re-shoot setup {_named(list(setups), between=' or ')}"


def _named(names: list[str], *, between: str = " and ") -> str:
    more = f" and {len(names) - _MOST_NAMES} more" if len(names) > _MOST_NAMES else ""
    return between.join(names[:_MOST_NAMES]) + more
