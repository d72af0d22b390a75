"""The tolerance stage: what a floor's surface and its measured lines make of the rules."""

from dataclasses import replace

from slab_core.errors import Problem
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import to_metres
from slab_core.rooms.model import Floor
from slab_core.surface.model import Surface
from slab_core.surveys.model import Profile
from slab_core.tolerance.asked_level import is_level, level_answer
from slab_core.tolerance.asked_numbers import meets_numbers, numbers_answer
from slab_core.tolerance.chance import with_chances
from slab_core.tolerance.check import check_heights
from slab_core.tolerance.din_18202 import has_table, that_fit
from slab_core.tolerance.f_estimated import estimated
from slab_core.tolerance.f_numbers import f_numbers
from slab_core.tolerance.f_sections import by_sections
from slab_core.tolerance.lattice import free_steps
from slab_core.tolerance.level import level_of
from slab_core.tolerance.line_placement import misplacements
from slab_core.tolerance.model import FNumbers, Rule, RuleReport, ToleranceReport, ToleranceSpec
from slab_core.tolerance.sampled import with_sampled
from slab_core.tolerance.section import width_m
from slab_core.tolerance.steps import steps_at_joints
from slab_core.tolerance.straightedge import longest_stretch_m
from slab_core.tolerance.unproven import proven_only
from slab_core.tolerance.verdict import verdict_of

LONG_EDGE_M = 5.0
SHORT_EDGE_M = 1.0
FOOT_M = 0.3048


def report(
    *,
    floor: Floor,
    surface: Surface,
    profiles: tuple[Profile, ...],
    spec: ToleranceSpec,
    budget: Budget,
) -> ToleranceReport:
    """Check every rule on the fitted surface, levelness beside it, and F-numbers from measured lines.

    The rules of the reports are those that the floor has room for, where their class goes by the length.

    Raises
    ------
    Stopped
        when the budget says so.
    """
    heights = to_metres(surface.height)
    asked = _that_fit(spec.rules, floor=floor, surface=surface)
    fitted = check_heights(
        floor=floor,
        grid=surface.grid,
        heights_m=heights,
        inside=surface.inside,
        rules=asked,
        budget=budget,
    )
    weighed = with_chances(floor=floor, surface=surface, reports=fitted, budget=budget)
    rules, unproven = proven_only(
        with_sampled(weighed, floor=floor, surface=surface, budget=budget),
        floor=floor,
        surface=surface,
    )
    level = level_of(grid=surface.grid, heights_m=heights, inside=surface.inside)
    numbers, line_problems = f_numbers(profiles=profiles, area_m2=floor.area_m2, width_m=width_m(floor))
    numbers = by_sections(numbers, floor=floor, profiles=profiles)
    if numbers is None and spec.f_numbers is not None:
        numbers = estimated(floor=floor, surface=surface)
    level_verdict, level_problems = level_answer(level=level, spec=spec, floor=floor, surface=surface)
    numbers_verdict, number_problems = numbers_answer(numbers=numbers, spec=spec)
    problems = (
        *_edge_problems(rules),
        *_pair_problems(asked),
        *line_problems,
        *_misplaced(floor, profiles=profiles, numbers=numbers),
        *number_problems,
        *level_problems,
        *unproven,
    )
    meets_others = is_level(level, spec=spec) and meets_numbers(numbers, spec=spec)
    return ToleranceReport(
        floor_id=floor.id,
        rules=rules,
        passes=all(rule.passes for rule in rules) and meets_others,
        fall_m=level.fall_m,
        slope_x=level.slope_x,
        slope_y=level.slope_y,
        f_numbers=numbers,
        problems=tuple(replace(each, detail=f"floor {floor.id}: {each.detail}") for each in problems),
        steps=steps_at_joints(floor=floor, surface=surface),
        verdict=verdict_of(rules=rules, others=(level_verdict, numbers_verdict)),
        level_verdict=level_verdict,
        f_numbers_verdict=numbers_verdict,
        f_numbers_class=spec.f_numbers_class,
    )


def _that_fit(rules: tuple[Rule, ...], *, floor: Floor, surface: Surface) -> tuple[Rule, ...]:
    if not any(map(has_table, rules)):
        return rules
    free = free_steps(floor=floor, grid=surface.grid, inside=surface.inside)
    return that_fit(rules, longest_m=longest_stretch_m(grid=surface.grid, free=free))


def _misplaced(
    floor: Floor, *, profiles: tuple[Profile, ...], numbers: FNumbers | None
) -> tuple[Problem, ...]:
    used = {line.line for line in numbers.lines} if numbers is not None and not numbers.estimated else set()
    found = misplacements(floor=floor, profiles=tuple(line for line in profiles if line.id in used))
    if not found:
        return ()
    detail = "the lines for F-numbers are not laid as ASTM E1155 asks: " + "; ".join(found)
    return (Problem(code="f-numbers-lines-misplaced", detail=detail, severity="warning"),)


def _edge_problems(rules: tuple[RuleReport, ...]) -> tuple[Problem, ...]:
    return tuple(
        Problem(
            code="straightedge-longer-than-room",
            severity="warning",
            detail=f"a {r.rule.length_m / FOOT_M:.2f} ft ({r.rule.length_m:.3f} m) edge fits in none of the "
            "sixteen directions in which this floor is checked; the longest that fits in one of them, "
            f"{r.used_length_m / FOOT_M:.2f} ft ({r.used_length_m:.3f} m), was laid instead",
        )
        for r in rules
        if r.used_length_m < r.rule.length_m - 1e-6
    )


def _pair_problems(rules: tuple[Rule, ...]) -> tuple[Problem, ...]:
    lengths = [rule.length_m for rule in rules]
    if not lengths or max(lengths) < LONG_EDGE_M or min(lengths) <= SHORT_EDGE_M:
        return ()
    detail = (
        "a long edge alone lets a sharp lip pass; add a short rule beside it, for example 1/32 in in 2 ft "
        "(common practice, no single source)"
    )
    return (Problem(code="long-rule-alone", detail=detail, severity="warning"),)
