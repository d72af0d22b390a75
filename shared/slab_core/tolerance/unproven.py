"""What a report must say beside "passes": too coarse a survey, and demands that flattening does not meet."""

from math import sqrt

import numpy as np

from slab_core.errors import Problem
from slab_core.surface.model import Surface
from slab_core.tolerance.level import Level
from slab_core.tolerance.model import FNumbers, RuleReport, ToleranceSpec
from slab_core.units.display import feet_inches, inches, millimetres

ERROR_STEP_M = 1e-6
SURE_SD = 2.0

LEVELLED_M = 6 * 0.3048
"""Waves under shorter edges are proven with the edge and a feeler, not with a level (common practice)."""

_THREE_HEIGHTS = sqrt(1.5)
"""A departure is one height less the mean of two others, as if their errors had nothing in common."""


def coarse_problems(*, rules: tuple[RuleReport, ...], surface: Surface) -> tuple[Problem, ...]:
    """Rules that the fitted floor passes by less than the survey's own uncertainty (two sd).

    The median standard error stands for the floor: single unmeasured corners are named by the surface.
    """
    if not surface.inside.any():
        return ()
    error_m = float(np.median(surface.error[surface.inside])) * ERROR_STEP_M
    doubt_m = SURE_SD * _THREE_HEIGHTS * error_m
    spacing_m = surface.grid.step_m * sqrt(surface.inside.sum() / max(1, surface.observations_used))
    passing = [rule for rule in rules if rule.passes]
    return (
        *(_coarse(rule, doubt_m) for rule in passing if _is_close(rule, doubt_m)),
        *(_sparse(rule, spacing_m) for rule in passing if _is_sparse(rule, spacing_m)),
    )


def _is_sparse(rule: RuleReport, spacing_m: float) -> bool:
    return rule.used_length_m >= LEVELLED_M and spacing_m > rule.used_length_m / 2


def _sparse(rule: RuleReport, spacing_m: float) -> Problem:
    apart = f"{feet_inches(spacing_m, denominator=1)} ({spacing_m:.1f} m)"
    edge = f"{feet_inches(rule.used_length_m)} ({rule.used_length_m:.2f} m)"
    return Problem(
        code="pass-not-proven",
        detail=f"the readings stand about {apart} apart, and a hump or a dip under an edge of {edge} can lie "
        "between them unseen: measure more closely before the floor is said to pass",
        pointer="/surveys",
    )


def _is_close(rule: RuleReport, doubt_m: float) -> bool:
    return rule.largest_m + doubt_m > max(rule.rule.gap_m, rule.largest_m)


def _coarse(rule: RuleReport, doubt_m: float) -> Problem:
    edge = f"{feet_inches(rule.rule.length_m)} ({rule.rule.length_m:.2f} m)"
    return Problem(
        code="pass-not-proven",
        detail=f"the fitted floor departs {_both(rule.largest_m)} from an edge of {edge}, where "
        f"{_both(rule.rule.gap_m)} is allowed, but these readings tell a departure only to "
        f"±{_both(doubt_m)}: measure more closely or with a finer instrument before it is said to pass",
        pointer="/surveys",
    )


def level_problems(*, level: Level, spec: ToleranceSpec) -> tuple[Problem, ...]:
    """A floor asked to be level that is not: the plan makes it flat."""
    if spec.level_m is None or level.fall_m <= spec.level_m:
        return ()
    detail = (
        f"the floor's heights differ by {_both(level.fall_m)}, where {_both(spec.level_m)} is asked for; the "
        "plan makes the floor flat and leaves its slope: level is a choice with a price of its own"
    )
    return (Problem(code="level-not-met", detail=detail, pointer="/tolerance"),)


def number_problems(*, numbers: FNumbers | None, spec: ToleranceSpec) -> tuple[Problem, ...]:
    """F-numbers asked for that were not measured, or were and are too low."""
    if spec.f_numbers is None:
        return ()
    if numbers is None:
        detail = "F-numbers were asked for but no usable line was measured, so they cannot be shown to be met"
        return (Problem(code="f-numbers-not-measured", detail=detail),)
    (ff, fl), found = spec.f_numbers, (numbers.ff, numbers.fl)
    if found[0] >= ff and found[1] >= fl:
        return ()
    detail = (
        f"the measured lines give FF {found[0]:.1f} and FL {found[1]:.1f}, where FF {ff:g} and FL {fl:g} are "
        "asked for; the plan is made for the straightedge rules: measure the lines again after the correction"
    )
    return (Problem(code="f-numbers-not-met", detail=detail, pointer="/tolerance"),)


def _both(metres: float) -> str:
    return f"{inches(metres)} ({millimetres(metres)})"
