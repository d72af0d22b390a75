"""A room with one door at the height of its rim and one above it, planned, and what its floor then is."""

from collections.abc import Callable
from functools import cache

import numpy as np

from slab_core.correction.model import Plan
from slab_core.correction.ramps_model import DoorWays, DoorWork
from slab_core.numerics.grid import Floats, Mask, to_metres
from slab_core.rooms.model import Floor
from slab_core.stages import PLANE
from slab_core.tolerance.check import check_heights
from tests.invented_floors import RULE, Work, build_up_m, door, rectangle, work

WIDE_M, LONG_M = 4.0, 6.0
HALF_M = 8e-4
RAMPS_ALONE = DoorWays(transitions=False, cuts=False)


def bowl(x: Floats, y: Floats) -> Floats:
    """A hollow of 7 mm in the middle of a flat rim, too deep for the rule."""
    return -7e-3 * np.sin(np.pi * x / WIDE_M) * np.sin(np.pi * y / LONG_M)


def flat(x: Floats, y: Floats) -> Floats:
    return 0.0 * x


def passing(x: Floats, y: Floats) -> Floats:
    """Waves of a millimetre, which the rule allows."""
    return 5e-4 * np.sin(2 * x) * np.cos(2 * y) * np.minimum(1.0, LONG_M - y)


def room(north_m: float) -> Floor:
    """A door to the west at the height of the rim, and one to the north so much above it."""
    west = door(
        id="west",
        start=(0.0, 1.0),
        end=(0.0, 1.9),
        low_m=build_up_m() - HALF_M,
        high_m=build_up_m() + HALF_M,
    )
    north = door(
        id="north",
        start=(1.5, LONG_M),
        end=(2.4, LONG_M),
        low_m=build_up_m() + north_m - HALF_M,
        high_m=build_up_m() + north_m + HALF_M,
    )
    return rectangle(width_m=WIDE_M, length_m=LONG_M, openings=(west, north))


Slab = Callable[[Floats, Floats], Floats]


def made(
    north_m: float, ways: DoorWays | None = RAMPS_ALONE, *, slab: Slab = bowl, **changes: object
) -> Work:
    return work(floor=room(north_m), height_m=slab, columns=26, doorways=ways, **changes)


@cache
def planned(
    north_m: float, ways: DoorWays | None = RAMPS_ALONE, *, slab: Slab = bowl, alternate: str = PLANE
) -> tuple[Work, Plan]:
    """The floor and its plan, which several tests look at."""
    case = made(north_m, ways, slab=slab)
    return case, case.plan(alternate)


def finished(case: Work, plan: Plan) -> Floats:
    return to_metres(case.surface.height - plan.grind + plan.fill)


def within(case: Work, metres: float) -> Mask:
    """Nodes so near to the north door, by nothing of the code under test."""
    x, y = np.meshgrid(case.surface.grid.xs(), case.surface.grid.ys())
    return np.asarray(np.hypot(x - np.clip(x, 1.5, 2.4), y - LONG_M) < metres)


def largest_m(case: Work, plan: Plan, *, where: Mask, work: DoorWork | None = None) -> float:
    """By the tolerance code alone, by the ramp's rule or the room's."""
    rule = RULE if work is None or work.rule is None else work.rule
    (report,) = check_heights(
        floor=case.floor,
        grid=case.surface.grid,
        heights_m=finished(case, plan),
        inside=where,
        rules=(rule,),
    )
    return report.largest_m


def ramps(plan: Plan) -> list[DoorWork]:
    return [work for work in plan.doorways if work.way == "ramp"]
