"""What a plan leaves of each rule, beside what the crew's placing is off, and a word where that is more."""

from slab_core.correction.model import Margin, PourMethod
from slab_core.correction.placing_error import (
    GROUND_SD_M,
    SCREEDED_SD_M,
    TROWELLED_SD_M,
    free_error_m,
)
from slab_core.errors import Problem
from slab_core.tolerance.model import RuleReport
from slab_core.units.display import feet_inches, in_both

HAIR_M = 2e-5
"""Depths are drawn in storage steps: two of them say nothing."""


def margins_of(
    *, after: tuple[RuleReport, ...], poured: PourMethod | None, trowels: bool, grinds: bool
) -> tuple[Margin, ...]:
    """One for each rule, with the standard deviation of the roughest way of placing that the plan uses."""
    return tuple(
        Margin(
            margin_m=report.rule.gap_m - report.largest_m,
            placing_sd_m=max(
                SCREEDED_SD_M if poured == "screeded" else 0.0,
                free_error_m(length_m=report.used_length_m) / 2 if poured == "free" else 0.0,
                TROWELLED_SD_M if trowels else 0.0,
                GROUND_SD_M if grinds else 0.0,
            ),
        )
        for report in after
    )


def thin_margins(
    *, after: tuple[RuleReport, ...], margins: tuple[Margin, ...], subject: str
) -> tuple[Problem, ...]:
    """Rules that the plan keeps by less than a standard deviation of placing."""
    return tuple(
        Problem(
            code="margin-thin",
            severity="warning",
            detail=f"{subject}: as planned, the rule of {in_both(report.rule.gap_m)} in "
            f"{feet_inches(report.rule.length_m)} is kept by {in_both(margin.margin_m)}, less than one "
            f"standard deviation of placing, {in_both(margin.placing_sd_m)}: count on checking with the edge "
            "and skimming or grinding once more before anything is laid, or ask for options.confidence, "
            "which plans for it.",
        )
        for report, margin in zip(after, margins, strict=True)
        if report.passes and margin.margin_m < margin.placing_sd_m - HAIR_M
    )
