"""Whether surveys of one floor are of one datum: what is a hair off is moved and told, more is refused."""

from dataclasses import dataclass, replace

import numpy as np

from slab_core.correction.resurvey.common_ground import LEAST, Common
from slab_core.correction.resurvey.readings import owners, rows_of
from slab_core.errors import InputRefused, Problem, Severity
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Mask
from slab_core.rooms.model import Floor
from slab_core.surface.shift import Shift, differences, shift_between
from slab_core.surveys.agreement import ALLOWED_SD, DOUBTED_SD
from slab_core.surveys.model import Observations
from slab_core.units.display import in_both
from slab_core.units.lengths import METRES_PER_INCH as INCH_M

TOLD_M, REFUSED_M = 0.0005, INCH_M / 16
"""Less than a fiftieth of an inch changes no plan; a level that is set up anew comes back to a benchmark
within 1/16 in (common practice, no single source)."""

SCATTER = 1.3
"""A fit does not see what slabs do between readings: on invented slabs with every fault shifts scattered by
1.2 to 1.5 of its standard errors, and of 1,000 pairs of surveys without one seven were refused, now one."""


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

    A shift that is not everywhere may be work that somebody has begun and nobody names, or a level that was
    moved on the way: it is told, and nothing is moved.

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
        shift = _shift(one.seen, later=one.later, floor=floor, budget=budget)
        if abs(shift.height_m) <= max(TOLD_M, ALLOWED_SD * shift.sd_m):
            told += _not_compared(one, floor=floor) if shift.sd_m > REFUSED_M else []
            continue
        everywhere = _is_everywhere(one, shift=shift, floor=floor, budget=budget)
        told.append(_apart(one, shift=shift, everywhere=everywhere, floor=floor))
        if everywhere:
            moved[one.survey] = shift.height_m
    refused = tuple(problem for problem in told if problem.severity == "refusal")
    if refused:
        raise InputRefused(refused)
    by = np.array([moved.get(i, 0.0) for i in owners(observations).tolist()])
    by = np.where(["/scans/" in pointer for pointer in observations.pointer], 0.0, by)
    level = observations.weight.sum(axis=1)  # gaps and lines on the floor have no datum
    value = np.round(observations.value_m - by * level, 9)
    return Settled(observations=replace(observations, value_m=value), problems=tuple(told))


def _shift(seen: Observations, *, later: Mask, floor: Floor, budget: Budget) -> Shift:
    found = shift_between(floor=floor, seen=seen, later=later, budget=budget)
    return replace(found, sd_m=SCATTER * found.sd_m)


def _is_everywhere(common: Common, *, shift: Shift, floor: Floor, budget: Budget) -> bool:
    """Whether nothing but another datum explains the shift.

    After work it has to show in every part, whatever work is planned there, by half of it or more: work that
    nobody names begins here or there. Among surveys that know of none the parts only must not contradict it.
    """
    part = common.part[common.later]
    parts = [k for k in np.unique(part).tolist() if (part == k).sum() >= LEAST]
    if common.after_work:
        off = differences(common.seen, later=common.later)
        return all(np.median(off[part == k]) / shift.height_m >= 0.5 for k in parts)
    for k in parts:
        rows = ~common.later | (common.part == k)
        own = _shift(rows_of(common.seen, rows), later=common.later[rows], floor=floor, budget=budget)
        if (0.5 - own.height_m / shift.height_m) * abs(shift.height_m) > DOUBTED_SD * own.sd_m:
            return False
    return True


def _apart(common: Common, *, shift: Shift, everywhere: bool, floor: Floor) -> Problem:
    name, other = common.names
    counts = int(common.later.sum()), int((~common.later).sum())
    unsaid = "nothing is said to be done between them " if common.planned else "both read the slab "
    found = (
        f"floor {floor.id}: where {unsaid}survey “{name}” reads {'the slab' if common.planned else 'it'} "
        f"{in_both(abs(shift.height_m))} {'higher' if shift.height_m > 0 else 'lower'} than survey “{other}” "
        f"({counts[0]} and {counts[1]} readings), known to ±{2 * shift.sd_m / INCH_M:.3f} in "
        f"({2e3 * shift.sd_m:.2f} mm, 95 %). "
    )
    severity: Severity = "finding"
    if not everywhere and common.planned:
        says = (
            f"It is not so everywhere; they count as they are. Name work that was done in after, or {_RIGHT}"
        )
    elif not everywhere:
        says = (
            f"It is not so everywhere, as where a level is moved on the way; they count as they are. {_AGAIN}"
        )
    elif abs(shift.height_m) <= REFUSED_M:
        says = f"The readings of “{name}” were moved by that: {_RIGHT}"
    else:
        severity = "refusal"
        says = _WORKED if common.planned else _FIRST
    return Problem(
        code="surveys-apart", detail=found + says, pointer=f"/surveys/{common.survey}", severity=severity
    )


_RIGHT = "sight one benchmark or one shared turning point from both, or give the heights of both in one datum"
_AGAIN = "Read some of the places again from one setup, and leave out the readings that were wrong"
_WORKED = (
    f"They are not of one datum, so nobody can tell what was ground or filled: {_RIGHT}; if all of it was "
    "worked on between the two, name that work in after"
)
_FIRST = (
    f"They are not of one datum, and their mean would be neither slab: {_RIGHT} (where one was counted from "
    "another mark, take the difference off its heights); if neither is known to be right, read one place "
    "again from both marks"
)


def _not_compared(common: Common, *, floor: Floor) -> list[Problem]:
    """Of a survey that no ground ties to one before; rods are tied by what their setups sight."""
    if common.tied:
        return []
    if common.planned:
        detail = (
            "and those before it read no ground in common on which nothing was done between them, so nobody "
            "can tell whether they are of one datum; a difference would look like work done too high or too "
            "low. Read three places or more again that nobody works on, or sight one benchmark from both"
        )
    else:
        detail = (
            "and those before it read too little ground in common to tell whether they are of one datum; a "
            "difference would look like a step or a fall of the floor between them. Read three places or "
            "more of the other's again, or sight one benchmark from both; if both are of one datum, nothing "
            "is wrong"
        )
    said = f"floor {floor.id}: survey “{common.names[0]}” {detail}"
    return [Problem(code="surveys-not-compared", detail=said, pointer=f"/surveys/{common.survey}")]
