"""The floor's answer, pass, fail or measure more, of its rules, its level and its F-numbers together."""

from math import sqrt

import numpy as np

from slab_core.numerics.grid import ERROR_STEP_M
from slab_core.surface.model import Surface
from slab_core.tolerance.f_sections import reaches_locally
from slab_core.tolerance.level import Level
from slab_core.tolerance.model import FNumbers, RuleReport, ToleranceSpec, Verdict

SURE_SD = 2.0

_TWO_HEIGHTS = sqrt(2.0)
"""A fall is the difference of two heights, as if their errors had nothing in common."""


def is_level(level: Level, *, spec: ToleranceSpec) -> bool:
    """Whether the fitted surface falls no more than was asked for."""
    return spec.level_m is None or level.fall_m <= spec.level_m


def meets_numbers(numbers: FNumbers | None, *, spec: ToleranceSpec) -> bool:
    """Whether the F-numbers asked for were measured and reached; what was not measured is not met."""
    if spec.f_numbers is None:
        return True
    if numbers is None or numbers.estimated:
        return False
    reached = numbers.ff >= spec.f_numbers[0] and numbers.fl >= spec.f_numbers[1]
    return reached and reaches_locally(numbers, of_class=spec.f_numbers_class)


def verdict_of(
    *,
    rules: tuple[RuleReport, ...],
    level: Level,
    numbers: FNumbers | None,
    spec: ToleranceSpec,
    surface: Surface,
) -> Verdict:
    """Fail where one thing asked for surely fails, pass where all surely pass."""
    answers: set[Verdict] = {rule.chance.verdict for rule in rules if rule.chance is not None}
    answers |= {_of_level(level, spec=spec, surface=surface), _of_numbers(numbers, spec=spec)}
    if "fail" in answers:
        return "fail"
    return "pass" if answers == {"pass"} else "measure-more"


def _of_level(level: Level, *, spec: ToleranceSpec, surface: Surface) -> Verdict:
    if spec.level_m is None or not surface.inside.any():
        return "pass"
    error_m = float(np.median(surface.error[surface.inside])) * ERROR_STEP_M
    if abs(level.fall_m - spec.level_m) < SURE_SD * _TWO_HEIGHTS * error_m:
        return "measure-more"
    return "pass" if is_level(level, spec=spec) else "fail"


def _of_numbers(numbers: FNumbers | None, *, spec: ToleranceSpec) -> Verdict:
    if meets_numbers(numbers, spec=spec):
        return "pass"
    return "measure-more" if numbers is None or numbers.estimated else "fail"
