"""F-numbers of measured lines by ASTM E1155.

Source: ASTM E1155 as quoted in public copies (definitions of d, q, z). The constants 4.57 and 12.5, the
divisor n - 1 and the form of the combination are from memory: check the paid standard before relying on
them.
"""

import numpy as np

from slab_core.errors import Problem
from slab_core.numerics.grid import Floats
from slab_core.surveys.model import Profile
from slab_core.tolerance.f_interval import interval
from slab_core.tolerance.minimum_section import shortcomings
from slab_core.tolerance.model import FNumbers, LineFNumbers

FF_CONSTANT = 4.57
"""Inches; from memory."""

FL_CONSTANT = 12.5
"""Inches; from memory."""

FOOT_M = 0.3048
METRIC_M = 0.3
INCH_M = 0.0254
SPACING_SHARE = 0.02
"""Spacings within 2 % of 12 in or 300 mm are taken as they are; finer ones are brought to 12 in."""

LEAST_READINGS = 12
LEAST_VARIATION_IN = 1e-9
"""Below this a line is a perfect plane in working accuracy, and its F-number infinite."""


def curvatures(heights: Floats) -> Floats:
    """q_i = h_i - 2 h_(i-1) + h_(i-2), in the unit of the heights, shape (n - 2,)."""
    return np.asarray(heights[2:] - 2.0 * heights[1:-1] + heights[:-2])


def falls(heights: Floats) -> Floats:
    """z_i = h_i - h_(i-10), in the unit of the heights, shape (n - 10,)."""
    return np.asarray(heights[10:] - heights[:-10])


def f_number(values_in: Floats, *, constant: float) -> float:
    """constant / (3 S + |mean|), S with divisor n - 1; infinite for a perfect plane."""
    spread = 3.0 * float(np.std(values_in, ddof=1)) + abs(float(np.mean(values_in)))
    return constant / spread if spread > LEAST_VARIATION_IN else float("inf")


def combined(numbers: tuple[tuple[float, int], ...]) -> float:
    """F = √(N / Σ r/F²) of (F, r) over lines, r the count of their values."""
    total = sum(count for _, count in numbers)
    weight = sum(count / number**2 for number, count in numbers if np.isfinite(number))
    return float(np.sqrt(total / weight)) if weight > 0.0 else float("inf")


def line_f_numbers(*, name: str, heights_m: Floats) -> LineFNumbers:
    """FF and FL of at least twelve heights in order, 12 in (or 300 mm) apart."""
    inches = np.asarray(heights_m, dtype=np.float64) / INCH_M
    q, z = curvatures(inches), falls(inches)
    return LineFNumbers(
        line=name,
        ff=f_number(q, constant=FF_CONSTANT),
        fl=f_number(z, constant=FL_CONSTANT),
        q_count=len(q),
        z_count=len(z),
        curvature_m=tuple((q * INCH_M).tolist()),
    )


def f_numbers(
    *, profiles: tuple[Profile, ...], area_m2: float, width_m: float
) -> tuple[FNumbers | None, tuple[Problem, ...]]:
    """F-numbers of a floor's measured lines, and what keeps them from being a full test.

    None without a usable line. `width_m` is the floor's as a section.
    """
    usable: list[tuple[LineFNumbers, float]] = []
    problems: list[Problem] = []
    notes: list[str] = []
    for profile in profiles:
        spacing, heights, note = _at_a_foot(profile)
        if len(heights) < LEAST_READINGS or spacing > FOOT_M * (1.0 + SPACING_SHARE):
            problems.append(_unusable(profile, count=len(heights)))
            continue
        notes.extend([note] if note else [])
        usable.append((line_f_numbers(name=profile.id, heights_m=heights), spacing))
    if not usable:
        return None, tuple(problems)
    lines = tuple(line for line, _ in usable)
    short = shortcomings(
        area_m2=area_m2,
        width_m=width_m,
        lengths_m=tuple(spacing * (line.q_count + 1) for line, spacing in usable),
        z_count=sum(line.z_count for line in lines),
    )
    if short:
        detail = "the F-numbers are no full ASTM E1155 test: " + "; ".join(short)
        problems.append(Problem(code="f-numbers-below-minimum-section", detail=detail))
    flatness = tuple((line.ff, line.q_count) for line in lines)
    levelness = tuple((line.fl, line.z_count) for line in lines)
    found = FNumbers(
        ff=combined(flatness),
        fl=combined(levelness),
        ff_interval=interval(flatness),
        fl_interval=interval(levelness),
        lines=lines,
        spacing_m=usable[0][1],
        notes=(*dict.fromkeys(notes), *_without_wave(lines), *short),
        shortcomings=short,
    )
    return found, tuple(problems)


def _at_a_foot(profile: Profile) -> tuple[float, Floats, str]:
    """The line as it is when its spacing is 12 in or 300 mm, else interpolated to 12 in from a finer one."""
    spacing, heights = profile.spacing_m, np.asarray(profile.height_m, dtype=np.float64)
    nearest = min((FOOT_M, METRIC_M), key=lambda wanted: abs(spacing - wanted))
    if abs(spacing - nearest) <= SPACING_SHARE * nearest:
        note = "300 mm spacing used with the 12 in constants, without resampling"
        return spacing, heights, note if nearest == METRIC_M else ""
    if spacing > FOOT_M or len(heights) < 2:
        return spacing, heights, ""
    along = spacing * np.arange(len(heights))
    at = np.arange(0.0, along[-1] + 1e-9, FOOT_M)
    note = f"line {profile.id} was interpolated from {spacing * 1000:.0f} mm to 12 in"
    return FOOT_M, np.interp(at, along, heights), note


def _without_wave(lines: tuple[LineFNumbers, ...]) -> tuple[str, ...]:
    """What to say of lines whose F-numbers are infinite."""
    names = ", ".join(line.line for line in lines if not (np.isfinite(line.ff) and np.isfinite(line.fl)))
    if not names:
        return ()
    return (
        f"an F-number of {names} is infinite, as of a perfect plane, which no slab is: check the readings",
    )


def _unusable(profile: Profile, *, count: int) -> Problem:
    detail = (
        f"line {profile.id} has {count} readings {profile.spacing_m * 1000:.0f} mm apart; F-numbers need at "
        f"least {LEAST_READINGS} readings no more than 12 in (300 mm) apart, so it was left out of them"
    )
    return Problem(code="f-numbers-line-unusable", detail=detail)
