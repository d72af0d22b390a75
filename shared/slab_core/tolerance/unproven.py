"""What a report must say beside "passes": what the survey cannot prove, and demands that flattening does
not meet."""

from dataclasses import replace
from math import hypot

from slab_core.errors import Problem
from slab_core.surface.model import Surface
from slab_core.tolerance.chance import THREE_HEIGHTS, spacing_m
from slab_core.tolerance.level import Level
from slab_core.tolerance.model import Chance, FNumbers, RuleReport, ToleranceSpec
from slab_core.units.display import feet_inches, inches, millimetres

SURE_SD = 2.0

LEVELLED_M = 6 * 0.3048
"""Waves under shorter edges are proven with the edge and a feeler, not with a level (common practice)."""


def proven_only(
    reports: tuple[RuleReport, ...], *, surface: Surface
) -> tuple[tuple[RuleReport, ...], tuple[Problem, ...]]:
    """The reports with no pass that the instrument or the spacing of the readings cannot prove, and one
    problem for each cause why a rule that the fitted floor keeps is not said to be passed."""
    shown: list[RuleReport] = []
    problems: list[Problem] = []
    for report in reports:
        causes = _causes(report, surface=surface)
        chance = report.chance
        if causes and chance is not None and chance.verdict == "pass":
            report = replace(report, chance=replace(chance, verdict="measure-more"))
        shown.append(report)
        problems += [Problem(code="pass-not-proven", detail=cause, pointer="/surveys") for cause in causes]
    return tuple(shown), tuple(problems)


def _causes(report: RuleReport, *, surface: Surface) -> list[str]:
    if not report.passes or not surface.inside.any():
        return []
    found = []
    instrument_m = SURE_SD * THREE_HEIGHTS * hypot(surface.noise_sd_m, surface.spline.bias_sd_m)
    if instrument_m > report.rule.gap_m:
        found.append(_rough(report, instrument_m))
    apart_m = spacing_m(surface)
    if report.used_length_m >= LEVELLED_M and apart_m > report.used_length_m / 2:
        found.append(_sparse(report, apart_m))
    chance = report.chance
    if not found and chance is not None and chance.verdict != "pass":
        found.append(_doubtful(report, chance))
    return found


def _rough(report: RuleReport, instrument_m: float) -> str:
    return (
        f"readings by this instrument tell a departure from {_edge(report.used_length_m)} only to "
        f"±{_both(instrument_m)}, and {_both(report.rule.gap_m)} is allowed: measure with a finer one before "
        "the floor is said to pass"
    )


def _sparse(report: RuleReport, apart_m: float) -> str:
    apart = f"{feet_inches(apart_m, denominator=1)} ({apart_m:.1f} m)"
    return (
        f"the readings stand about {apart} apart: a hump or a dip under {_edge(report.used_length_m)} can "
        "lie between them unseen: measure more closely before the floor is said to pass"
    )


def _doubtful(report: RuleReport, chance: Chance) -> str:
    return (
        f"the fitted floor departs {_both(report.largest_m)} from {_edge(report.used_length_m)}, where "
        f"{_both(report.rule.gap_m)} is allowed, but by what these readings leave unsure it is "
        f"{_both(chance.largest_low_m)} to {_both(chance.largest_high_m)} and passes with a chance of "
        f"{chance.probability:.0%}: measure more closely or with a finer instrument before it is said to pass"
    )


def _edge(length_m: float) -> str:
    return f"an edge of {feet_inches(length_m)} ({length_m:.2f} m)"


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
    if numbers is None or numbers.estimated:
        detail = "F-numbers were asked for but no usable line was measured, so they cannot be shown to be met"
        if numbers is not None:
            guess = f"FF {numbers.ff:.0f}, FL {numbers.fl:.0f}"
            detail += f"; estimated from the fitted surface, which reads high: {guess}"
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
