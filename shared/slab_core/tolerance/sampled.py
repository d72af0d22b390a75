"""How likely a rule is kept that a share of all lays of the edge has to keep, from joint draws.

The share is counted on each draw, and its chance of being large enough taken as normal over the draws. Draws
are smoother than slabs: as in chance.py gaps are taken as larger by what readings so far apart leave unseen
in the mean. A sample of few lays, as a crew takes it, varies more than the share of all.
"""

from dataclasses import replace
from math import erf, exp, sqrt

import numpy as np

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import HEIGHT_STEP_M
from slab_core.rooms.model import Floor
from slab_core.surface.model import Surface
from slab_core.surface.sample import sampler_of
from slab_core.tolerance.chance import FAIL_AT, PASS_AT, spacing_m, unseen
from slab_core.tolerance.coarse import coarse, drawn_m, stride_for
from slab_core.tolerance.lays import kept_share
from slab_core.tolerance.model import RuleReport, Verdict

DRAWS = 32
LEAST_SD = 1e-4
"""Of the share: less is the same share in all draws."""


def with_sampled(
    reports: tuple[RuleReport, ...], *, floor: Floor, surface: Surface, budget: Budget
) -> tuple[RuleReport, ...]:
    """The reports, where the chance of a rule that not every lay has to keep is that of its share. Their
    largest departures stay those of all lays.

    Raises
    ------
    Stopped
        when the budget says so, between draws.
    """
    return tuple(
        report
        if report.kept_share is None or report.chance is None
        else _sampled(report, floor=floor, surface=surface, budget=budget)
        for report in reports
    )


def _sampled(report: RuleReport, *, floor: Floor, surface: Surface, budget: Budget) -> RuleReport:
    assert report.chance is not None  # with_sampled looks
    if report.chance.verdict == "pass":
        return report  # every lay keeps it, so any share does
    probability, draws = float(report.passes), 0
    if surface.error.any():
        probability, draws = _probability(report, floor=floor, surface=surface, budget=budget), DRAWS
    verdict: Verdict = "pass" if probability >= PASS_AT else "measure-more"
    if probability <= FAIL_AT:
        verdict = "fail"
    chance = replace(report.chance, verdict=verdict, probability=round(probability, 4), draws=draws)
    return replace(report, chance=chance)


def _probability(report: RuleReport, *, floor: Floor, surface: Surface, budget: Budget) -> float:
    length_m, rule = report.used_length_m, report.rule
    on = coarse(floor=floor, surface=surface, stride=stride_for(length_m, step_m=surface.grid.step_m))
    sampler = sampler_of(surface.spline)
    drawn = drawn_m(surface=surface, sampler=sampler, on=on, count=DRAWS, rng=np.random.default_rng(0))
    mean, _ = unseen(length_m, spacing_m=spacing_m(surface))
    shares = []
    for heights in drawn:
        budget.left_s()
        shares.append(
            kept_share(
                grid=on.grid,
                heights_m=np.where(on.inside, heights, 0.0),
                free=on.free,
                length_m=length_m,
                gap_m=(rule.gap_m + HEIGHT_STEP_M) / exp(mean),
            )
        )
    sd = max(LEAST_SD, float(np.std(shares, ddof=1)))
    return 0.5 * (1.0 + erf((float(np.mean(shares)) - rule.share) / (sd * sqrt(2.0))))
