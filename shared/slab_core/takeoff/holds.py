"""Hold points: what somebody has to settle before work goes on."""

from slab_core.errors import Problem
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.model import Hold
from slab_core.takeoff.slab_rules import slab_holds

_OF_FINDINGS: dict[str, tuple[str, tuple[str, ...], str]] = {
    "boards-not-acclimated": ("crew lead", ("spread",), "USDA Wood Handbook, and common practice"),
    "boards-and-subfloor-apart": (
        "crew lead",
        ("spread",),
        "the wood flooring trade's rule, read second-hand",
    ),
    "moisture-unknown": ("office", ("spread",), "common practice, no single source"),
    "temperature-for-pouring": (
        "crew lead",
        ("prime", "pour", "patch", "skim"),
        "common practice, no single source",
    ),
}
"""Findings of the takeoff that hold work: who acts, what waits, and where the rule comes from."""


def holds(*, brief: Brief, problems: tuple[Problem, ...]) -> tuple[Hold, ...]:
    """Of the slab and its products, then of the findings that hold work; none for work that is done."""
    found = tuple(
        Hold(code=problem.code, what=problem.detail, who=who, before=before, rule=problem.code, source=source)
        for problem in problems
        if problem.code in _OF_FINDINGS
        for who, before, source in (_OF_FINDINGS[problem.code],)
    )
    return tuple(hold for hold in (*slab_holds(brief), *found) if not brief.finished.issuperset(hold.before))
