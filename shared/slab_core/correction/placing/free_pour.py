"""What cannot be poured free: a compound that no pin holds finds its own level, as far as it runs.

Common practice, no single source: on slopes over about 1/8 in in a foot it creeps, it heals some feet around
the bucket, and it leaves about 1/8 in in 10 ft. How much can be kept wet at once is the same with and
without pins (flow.py).
"""

import numpy as np

from slab_core.correction.placing.placed import Placed
from slab_core.correction.placing_error import free_error_m
from slab_core.numerics.grid import HEIGHT_STEP_M
from slab_core.tolerance.model import RuleReport
from slab_core.units.display import feet_inches, inches, millimetres
from slab_core.units.lengths import METRES_PER_FOOT as FOOT_M

CREEPS_FROM = 1 / 96
"""The fall, 1/8 in in a foot, beyond which a wet compound creeps."""

TWISTED = "a free pour finds its level and cannot be twisted"


def cannot_be_free(placed: Placed) -> str:
    """Why these pours cannot be made without pins, whatever the rules; empty if they can."""
    if placed.twist_mm != 0.0:
        return TWISTED
    slope, hair = _steepest(placed), HEIGHT_STEP_M / placed.task.case.nodes.grid.step_m
    if slope > CREEPS_FROM + hair:
        return (
            f"a free pour creeps on more than {inches(CREEPS_FROM * FOOT_M)} in a foot; this surface falls "
            f"{millimetres(slope * FOOT_M)} in a foot"
        )
    reach_m, radius_m = _reach_m(placed), placed.task.compound.heals_radius_m
    if reach_m > radius_m:
        return (
            f"so thin, a bag would have to run {feet_inches(reach_m)} by itself; the compound heals "
            f"{feet_inches(radius_m)} around the bucket"
        )
    return ""


def leaves_too_much(placed: Placed, *, after: tuple[RuleReport, ...]) -> str:
    """Which rule does not leave what a free pour is off by; empty if all do."""
    for report in after:
        error = free_error_m(length_m=report.used_length_m)
        if report.largest_m + error > report.rule.gap_m:
            return f"a free pour is off by {millimetres(error)}, which the rule does not leave"
    return ""


def _steepest(placed: Placed) -> float:
    """The steepest fall of what is poured: that of the plane with the ramps that lie on it."""
    task = placed.task
    nodes, ramped = task.case.nodes, task.ramped
    if placed.abc_mm is None:
        return 0.0
    _, slope_x, slope_y = nodes.to_plane(placed.abc_mm)
    if ramped is None:
        return float(np.hypot(slope_x, slope_y))
    lift = np.full(nodes.inside.shape, np.nan)
    lift[nodes.inside] = np.where(placed.poured, ramped.lift * HEIGHT_STEP_M, np.nan)
    along_x, along_y = (
        np.nan_to_num(np.diff(np.pad(lift, 1, constant_values=np.nan), axis=axis)) / nodes.grid.step_m
        for axis in (1, 0)
    )
    return float(np.hypot(slope_x + along_x[1:, :], slope_y + along_y[:, 1:]).max())


def _reach_m(placed: Placed) -> float:
    """How far a bag runs on all sides of the bucket at the mean depth of what is poured."""
    where, nodes = placed.poured, placed.task.case.nodes
    m2 = float(nodes.area_m2[where].sum())
    m3 = float(nodes.area_m2[where] @ placed.fill[where]) * HEIGHT_STEP_M
    return float(np.sqrt(placed.task.compound.package.size * m2 / (np.pi * m3))) if m3 > 0.0 else 0.0
