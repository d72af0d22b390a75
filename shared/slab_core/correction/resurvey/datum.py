"""Whether surveys of one floor are of one datum: what is a hair off is moved and told, more is refused."""

from dataclasses import dataclass, replace

import numpy as np

from slab_core.correction.resurvey.common_ground import LEAST, Common
from slab_core.correction.resurvey.readings import owners
from slab_core.errors import InputRefused, Problem, Severity
from slab_core.numerics.budget import Budget
from slab_core.rooms.model import Floor
from slab_core.surface.shift import Shift, differences, shift_between
from slab_core.surveys.agreement import ALLOWED_SD
from slab_core.surveys.model import Observations
from slab_core.units.display import in_both
from slab_core.units.lengths import METRES_PER_INCH as INCH_M

TOLD_M, REFUSED_M = 0.0005, INCH_M / 16
"""Less than a fiftieth of an inch changes no plan; a level that is set up anew comes back to a benchmark
within 1/16 in (common practice, no single source)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Settled:
    """The readings in one datum, and what a person must know about that."""

    observations: Observations
    problems: tuple[Problem, ...]


def in_one_datum(
    *,
    floor: Floor,
    observations: Observations,
    common: tuple[Common, ...],
    budget: Budget,
) -> Settled:
    """The observations with those of surveys moved that lie a hair higher or lower than the ones before.

    A shift that is not everywhere may be work that somebody has begun and nobody names: it is told, and
    nothing is moved. So it is among surveys that know of no work: the first plan was made from them as they
    are.

    Raises
    ------
    InputRefused
        `surveys-apart` for each survey that is farther off than a level is when it is set up anew.
    """
    if not common:
        return Settled(observations=observations, problems=())
    moved: dict[int, float] = {}
    told: list[Problem] = []
    for one in common:
        if one.other < 0:
            told += _not_compared(one, floor=floor)
            continue
        other = np.where(one.later, 0.0, moved.get(one.other, 0.0))
        one = replace(one, seen=replace(one.seen, value_m=one.seen.value_m - other))
        shift = shift_between(floor=floor, seen=one.seen, later=one.later, budget=budget)
        if abs(shift.height_m) <= max(TOLD_M, ALLOWED_SD * shift.sd_m):
            continue
        told.append(_apart(one, shift=shift, floor=floor))
        if _is_certain(one, shift=shift):
            moved[one.survey] = shift.height_m
    refused = tuple(problem for problem in told if problem.severity == "refusal")
    if refused:
        raise InputRefused(refused)
    by = np.array([moved.get(i, 0.0) for i in owners(observations).tolist()])
    by = np.where(["/scans/" in pointer for pointer in observations.pointer], 0.0, by)
    level = observations.weight.sum(axis=1)  # gaps and lines on the floor have no datum
    value = np.round(observations.value_m - by * level, 9)
    return Settled(observations=replace(observations, value_m=value), problems=tuple(told))


def _is_certain(common: Common, *, shift: Shift) -> bool:
    """Whether nothing but another datum explains the shift: whatever work is planned there, it is in every
    part by half of it or more. Work that nobody names begins here or there."""
    off, part = differences(common.seen, later=common.later), common.part[common.later]
    medians = [np.median(off[part == k]) for k in np.unique(part) if (part == k).sum() >= LEAST]
    return common.after_work and all(median / shift.height_m >= 0.5 for median in medians)


def _apart(common: Common, *, shift: Shift, floor: Floor) -> Problem:
    name, other = common.names
    counts = int(common.later.sum()), int((~common.later).sum())
    found = (
        f"floor {floor.id}: where nothing is said to be done between them survey “{name}” reads the slab "
        f"{in_both(abs(shift.height_m))} {'higher' if shift.height_m > 0 else 'lower'} than survey “{other}” "
        f"({counts[0]} and {counts[1]} readings), known to ±{2 * shift.sd_m / INCH_M:.3f} in "
        f"({2e3 * shift.sd_m:.2f} mm, 95 %). "
    )
    right = (
        "sight one benchmark or one shared turning point from both, or give the heights of both in one datum"
    )
    severity: Severity = "finding"
    if not common.after_work:
        says = f"Both count as they are: {right}"
    elif not _is_certain(common, shift=shift):
        says = (
            f"It is not so everywhere; they count as they are. Name work that was done in after, or {right}"
        )
    elif abs(shift.height_m) <= REFUSED_M:
        says = f"The readings of “{name}” were moved by that: {right}"
    else:
        severity = "refusal"
        says = (
            f"They are not of one datum, so nobody can tell what was ground or filled: {right}; if all of "
            "it was worked on between the two, name that work in after"
        )
    return Problem(
        code="surveys-apart", detail=found + says, pointer=f"/surveys/{common.survey}", severity=severity
    )


def _not_compared(common: Common, *, floor: Floor) -> list[Problem]:
    """Of a survey after work that no ground ties to one before; rods are tied by what their setups sight."""
    if not common.after_work or common.tied:
        return []
    detail = (
        f"floor {floor.id}: survey “{common.names[0]}” and those before it read no ground in common on which "
        "nothing was done between them, so nobody can tell whether they are of one datum; a difference would "
        "look like work done too high or too low. Read three places or more again that nobody works on, or "
        "sight one benchmark from both"
    )
    return [Problem(code="surveys-not-compared", detail=detail, pointer=f"/surveys/{common.survey}")]
