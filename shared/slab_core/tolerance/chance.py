"""How likely a floor keeps a rule, from joint draws of its surface.

The largest departure of each draw is found on a coarser grid, raised by what that grid misses on the fitted
surface. Its logarithm is taken as normal, so that few draws tell a tail. Bands, ridges and patches are
sharper than what is drawn, and the largest departure is where a slab is least like its draws: so it is moved
and widened by what readings farther apart, as a share of the edge, leave unseen. The form of this is ours;
its amounts were set on invented slabs of three liveliness, read 0.15-0.75 m apart, under edges of 2-10 ft,
which are not those that check it. The fixed seed makes the draws places of a quadrature, not chances of the
job.
"""

from dataclasses import dataclass, replace
from math import erf, exp, log, sqrt

import numpy as np

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import ERROR_STEP_M, HEIGHT_STEP_M, Floats, Grid, to_metres
from slab_core.rooms.model import Floor
from slab_core.surface.model import Surface
from slab_core.surface.sample import Sampler, sampler_of
from slab_core.tolerance.coarse import Coarse, coarse, drawn_m, stride_for
from slab_core.tolerance.edge import placing_sd_m, sag_m
from slab_core.tolerance.model import Chance, ChancePlace, RuleReport, Verdict
from slab_core.tolerance.places import walls_from, worst_nodes
from slab_core.tolerance.proof import THREE_HEIGHTS

PASS_AT, FAIL_AT = 0.95, 0.05

NINETY = 1.645
"""Standard deviations to either side that hold 90 %."""

MOST_DRAWS, LEAST_DRAWS, DRAWN_M2 = 48, 16, 35.0
"""So many on a floor of that area; fewer on larger ones, where each costs more."""

UNSEEN_MEAN, UNSEEN_SD = 0.25, 0.42
"""Of the logarithm: times the spacing of the readings over the length of the edge, and times its root."""

PLAIN_SDS = 4.0
"""So many standard deviations away from the rule, no draw changes the answer."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Draws:
    """Heights on a coarser grid: as fitted, shape (ny, nx), and drawn, shape (count, ny, nx)."""

    on: Coarse
    fitted_m: Floats
    drawn_m: Floats


def with_chances(
    *, floor: Floor, surface: Surface, reports: tuple[RuleReport, ...], budget: Budget
) -> tuple[RuleReport, ...]:
    """Every rule's report with its chance of passing.

    Raises
    ------
    Stopped
        when the budget says so, between draws.
    """
    drawn: dict[int, _Draws] = {}
    sampler: Sampler | None = None
    found = []
    for report in reports:
        chance = _plain(report, surface=surface)
        if chance is None:
            stride = stride_for(report.used_length_m, step_m=surface.grid.step_m)
            sampler = sampler or sampler_of(surface.spline)
            if stride not in drawn:
                drawn[stride] = _draws(floor=floor, surface=surface, sampler=sampler, stride=stride)
            chance = _chance(floor=floor, surface=surface, report=report, draws=drawn[stride], budget=budget)
        found.append(replace(report, chance=chance))
    return tuple(found)


def _plain(report: RuleReport, *, surface: Surface) -> Chance | None:
    """The answer where the floor is known or so far from the rule that no doubt about it matters."""
    if not surface.error.any():
        known = (report.largest_m, report.largest_m)
        return _answer(report, probability=float(report.passes), draws=0, limits_m=known)
    mean, sd = unseen(report.used_length_m, spacing_m=spacing_m(surface))
    doubt = PLAIN_SDS * (THREE_HEIGHTS * _large_error_m(surface) + placing_sd_m(report.used_length_m))
    low = (report.largest_m - doubt) * exp(mean - PLAIN_SDS * sd)
    high = (report.largest_m + doubt) * exp(mean + PLAIN_SDS * sd)
    if low <= report.rule.gap_m <= high:
        return None
    return _answer(report, probability=float(high < report.rule.gap_m), draws=0, limits_m=(low, high))


def _large_error_m(surface: Surface) -> float:
    """The standard error that one node in ten exceeds."""
    errors = surface.error[surface.inside]
    return float(np.quantile(errors, 0.9)) * ERROR_STEP_M if len(errors) else 0.0


def spacing_m(surface: Surface) -> float:
    """How far apart the readings stand on average."""
    return surface.grid.step_m * sqrt(surface.inside.sum() / max(1, surface.observations_used))


def unseen(length_m: float, *, spacing_m: float) -> tuple[float, float]:
    """Mean and standard deviation of the logarithm of the true over the drawn largest departure."""
    share = min(spacing_m / length_m, 1.0) if length_m > 0.0 else 1.0
    return UNSEEN_MEAN * share, UNSEEN_SD * sqrt(share)


def _draws(*, floor: Floor, surface: Surface, sampler: Sampler, stride: int) -> _Draws:
    on = coarse(floor=floor, surface=surface, stride=stride)
    count = int(np.clip(MOST_DRAWS * DRAWN_M2 / floor.area_m2, LEAST_DRAWS, MOST_DRAWS))
    return _Draws(
        on=on,
        fitted_m=on.of(to_metres(surface.height)),
        drawn_m=drawn_m(surface=surface, sampler=sampler, on=on, count=count, rng=np.random.default_rng(0)),
    )


def _chance(*, floor: Floor, surface: Surface, report: RuleReport, draws: _Draws, budget: Budget) -> Chance:
    rule = report.rule
    fitted = draws.on.larger_m(draws.fitted_m, rule=rule, budget=budget)
    missed = max(0.0, report.largest_m - float(fitted.max(initial=0.0)))
    largest = np.zeros(len(draws.drawn_m))
    failing, departing_m = np.zeros(draws.on.inside.shape), np.zeros(draws.on.inside.shape)
    for k, heights in enumerate(draws.drawn_m):
        found = draws.on.larger_m(heights, rule=rule, budget=budget)
        largest[k] = found.max(initial=0.0) + missed
        failing += found > rule.gap_m + HEIGHT_STEP_M
        departing_m += found
    failing /= max(1, len(largest))
    middle, sd = _of_logarithm(report, largest_m=largest, surface=surface)
    chance = _answer(
        report,
        probability=_normal((log(rule.gap_m + HEIGHT_STEP_M) - middle) / sd),
        draws=len(largest),
        limits_m=(exp(middle - NINETY * sd), exp(middle + NINETY * sd)),
    )
    nodes = _worst(failing, on=draws.on)
    if not nodes and chance.verdict == "measure-more":  # no draw fails, but what no draw shows may
        nodes = _worst(departing_m, on=draws.on)
    return replace(chance, places=_places(nodes, floor=floor, grid=draws.on.grid, failing=failing))


def _of_logarithm(report: RuleReport, *, largest_m: Floats, surface: Surface) -> tuple[float, float]:
    """Mean and standard deviation of the logarithm of the largest departure that a check would find."""
    logs = np.log(np.maximum(largest_m, HEIGHT_STEP_M))
    mean, sd = unseen(report.used_length_m, spacing_m=spacing_m(surface))
    middle = float(logs.mean()) + mean
    placing = placing_sd_m(report.used_length_m) / exp(middle)
    return middle, sqrt(float(logs.var(ddof=1)) + sd**2 + placing**2)


def _normal(away: float) -> float:
    return 0.5 * (1.0 + erf(away / sqrt(2.0)))


def _answer(report: RuleReport, *, probability: float, draws: int, limits_m: tuple[float, float]) -> Chance:
    return Chance(
        verdict=_verdict(probability),
        probability=round(probability, 4),
        draws=draws,
        pass_at=PASS_AT,
        fail_at=FAIL_AT,
        largest_low_m=max(0.0, limits_m[0]),
        largest_high_m=limits_m[1],
        edge_sag_m=sag_m(report.used_length_m),
        placing_sd_m=placing_sd_m(report.used_length_m),
    )


def _verdict(probability: float) -> Verdict:
    if probability >= PASS_AT:
        return "pass"
    return "fail" if probability <= FAIL_AT else "measure-more"


def _worst(values: Floats, *, on: Coarse) -> list[tuple[int, int]]:
    return worst_nodes(grid=on.grid, departure_m=values, inside=on.inside, gap_m=0.5)


def _places(
    nodes: list[tuple[int, int]], *, floor: Floor, grid: Grid, failing: Floats
) -> tuple[ChancePlace, ...]:
    at = [(grid.x0_m + i * grid.step_m, grid.y0_m + j * grid.step_m) for j, i in nodes]
    return tuple(
        ChancePlace(at=place, failing=float(failing[node]), walls=walls_from(floor=floor, at=place))
        for node, place in zip(nodes, at, strict=True)
    )
