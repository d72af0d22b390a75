"""Heights on a grid against straightedge rules."""

import numpy as np

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import HEIGHT_STEP_M, Floats, Grid, Ints, Mask
from slab_core.rooms.model import Floor
from slab_core.tolerance.between import between_m
from slab_core.tolerance.lattice import free_steps
from slab_core.tolerance.lays import kept_share
from slab_core.tolerance.model import Rule, RuleReport
from slab_core.tolerance.places import place_at, worst_nodes
from slab_core.tolerance.straightedge import departures

SLACK_M = HEIGHT_STEP_M
"""Heights are whole storage steps, so a departure beyond its rule by less than one says nothing."""


def check_heights(
    *,
    floor: Floor,
    grid: Grid,
    heights_m: Floats,
    inside: Mask,
    rules: tuple[Rule, ...],
    budget: Budget | None = None,
) -> tuple[RuleReport, ...]:
    """One report for each rule; `heights_m` and `inside` have the shape (ny, nx).

    Raises
    ------
    Stopped
        when the budget says so.
    """
    free = free_steps(floor=floor, grid=grid, inside=inside)
    known = np.where(inside, heights_m, 0.0)
    return tuple(
        _check(
            floor=floor,
            grid=grid,
            heights_m=known,
            inside=inside,
            free=free,
            rule=rule,
            budget=budget or Budget(),
        )
        for rule in rules
    )


def _check(
    *, floor: Floor, grid: Grid, heights_m: Floats, inside: Mask, free: Mask, rule: Rule, budget: Budget
) -> RuleReport:
    found = departures(grid=grid, heights_m=heights_m, free=free, rule=rule, budget=budget)
    departure = np.where(inside, found.larger_m(), 0.0)
    largest = float(departure.max(initial=0.0))
    nodes = worst_nodes(grid=grid, departure_m=departure, inside=inside, gap_m=rule.gap_m)
    count = max(1, int(inside.sum()))
    used_m = min(rule.length_m, found.longest_run_m)
    share = _kept_share(grid=grid, heights_m=heights_m, free=free, rule=rule, length_m=used_m)
    return RuleReport(
        rule=rule,
        used_length_m=used_m,
        largest_m=largest,
        passes=largest <= rule.gap_m + SLACK_M or (share is not None and share >= rule.share),
        failing_share=float((departure > rule.gap_m + SLACK_M).sum()) / count,
        worst=tuple(
            place_at(floor=floor, grid=grid, heights_m=heights_m, free=free, rule=rule, node=node)
            for node in nodes
        ),
        departure=_whole_steps(departure),
        between_m=between_m(
            grid=grid,
            heights_m=heights_m,
            inside=inside,
            departure_m=departure,
            length_m=used_m,
        ),
        kept_share=share,
    )


def _kept_share(*, grid: Grid, heights_m: Floats, free: Mask, rule: Rule, length_m: float) -> float | None:
    if rule.share == 1.0:
        return None
    allowed_m = rule.gap_m + SLACK_M
    return kept_share(grid=grid, heights_m=heights_m, free=free, length_m=length_m, gap_m=allowed_m)


def _whole_steps(departure_m: Floats) -> Ints:
    """Half steps are common where heights are whole ones: they go to even, whatever their last digits."""
    return np.rint(np.round(departure_m / HEIGHT_STEP_M, 4)).astype(np.int32)
