"""What a person must look at again before a plan is carried out."""

from slab_core.correction.model import GrindArea
from slab_core.errors import Problem
from slab_core.rooms.distances import said_place
from slab_core.rooms.model import Floor
from slab_core.tolerance.model import RuleReport
from slab_core.units.display import feet_inches, in_both
from slab_core.units.lengths import METRES_PER_INCH as INCH_M

HOLD_GRINDING_M = INCH_M / 4
"""Deeper grinding exposes and loosens the stone: a hold point (common practice, no single source)."""

MUCH_MEAN_FILL_M = 5 * INCH_M / 8
_HALF_STEP_M = 5e-6


def second_look(
    *,
    grind_areas: tuple[GrindArea, ...],
    mean_fill_m: float,
    after: tuple[RuleReport, ...],
    floor: Floor,
) -> tuple[Problem, ...]:
    """Findings and warnings on one plan."""
    return (
        *_deep_grinding(grind_areas=grind_areas, floor=floor),
        *_much_fill(mean_fill_m=mean_fill_m, subject=f"floor {floor.id}"),
        *(still_failing(report=report, floor=floor) for report in after if not report.passes),
    )


def limits_crossed(
    *, grind_m: float, fill_m: float, grind_cap_m: float, fill_cap_m: float, subject: str
) -> tuple[Problem, ...]:
    """Findings on a plane that was given, not chosen, and asks for more than the limits allow."""
    problems = []
    for what, depth, cap in (("grinding", grind_m, grind_cap_m), ("fill", fill_m, fill_cap_m)):
        if depth > cap + 1e-5:
            detail = (
                f"{subject}: {what} of {in_both(depth)} is more than the greatest allowed, {in_both(cap)}."
            )
            problems.append(Problem(code=f"{what}-beyond-limit", detail=detail, pointer="/limits"))
    return tuple(problems)


def _deep_grinding(*, grind_areas: tuple[GrindArea, ...], floor: Floor) -> tuple[Problem, ...]:
    deep = [area for area in grind_areas if area.greatest_depth_m > HOLD_GRINDING_M + _HALF_STEP_M]
    if not deep:
        return ()
    deepest = max(deep, key=lambda area: area.greatest_depth_m)
    detail = (
        f"floor {floor.id}: {len(deep)} area(s) are ground deeper than 1/4 in, the deepest "
        f"{in_both(deepest.greatest_depth_m)}, {said_place(floor=floor, at=deepest.at)}. Stone is exposed "
        "and may come loose: hold until somebody responsible has agreed."
    )
    return (Problem(code="hold-point-deep-grinding", detail=detail, severity="finding"),)


def _much_fill(*, mean_fill_m: float, subject: str) -> tuple[Problem, ...]:
    if mean_fill_m <= MUCH_MEAN_FILL_M + _HALF_STEP_M:
        return ()
    detail = (
        f"{subject}: the mean fill is {in_both(mean_fill_m)}, over 5/8 in. Check the datum, and that nobody "
        "asks for level where flat is enough."
    )
    return (Problem(code="second-look-mean-fill", detail=detail, severity="warning"),)


def still_failing(*, report: RuleReport, floor: Floor) -> Problem:
    """The finding on a rule that the corrected floor does not keep."""
    rule, where = report.rule, report.worst[0] if report.worst else None
    place = f", {said_place(floor=floor, at=where.at)}" if where else ""
    detail = (
        f"floor {floor.id}: corrected by this plan the floor still departs {in_both(report.largest_m)} from "
        f"an edge of {feet_inches(report.used_length_m)} ({report.used_length_m:.2f} m){place}; "
        f"{in_both(rule.gap_m)} is allowed."
    )
    return Problem(code="still-failing-after-correction", detail=detail, severity="finding")
