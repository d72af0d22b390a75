"""What may be done at the doorways that a surface misses: which ramps, other transitions, cut doors."""

from dataclasses import dataclass
from itertools import permutations, product
from math import ceil

import numpy as np

from slab_core.correction.ramps.ramped import Chosen
from slab_core.correction.ramps_model import DoorWay, DoorWays
from slab_core.correction.thresholds import DoorRange
from slab_core.numerics.grid import Floats
from slab_core.units.lengths import METRES_PER_INCH as INCH_M

INSIDE_M = 5e-4
"""A ramp aims so far into the doorway's range where that is wide enough, so that nothing hangs on a hair."""

TOUCH_M = 1e-5
LENGTH_STEP_M = 6 * INCH_M

PARTS = (1.0, 0.5)
"""Shares of the way that a ramp takes; the surface takes the rest."""

MOST_DOORS = 2
"""Of more missed doorways each has one ramp to choose from, the shortest that goes the whole way."""

MOST_WHOLE = 3
"""Up to so many missed doorways every choice over all of them is worked out. Of more some are: a share of
those that are missed most is changed, at each the first way that meets it, by every order of some ways."""

SHARES = (0.25, 0.5, 0.75, 1.0)

Way = Chosen | None
"""What is done at a door; None leaves it as it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """How far a doorway's range is off a surface, in metres: 0 where it is met."""

    door: int
    rise_m: float


def needs(*, doors: tuple[DoorRange, ...], heights_m: tuple[Floats, ...]) -> tuple[Need, ...]:
    """The doors that a surface of these heights along each door misses, and the rise that would meet them; an
    obstacle has to be met by the floor itself."""
    found = []
    for k, (door, heights) in enumerate(zip(doors, heights_m, strict=True)):
        low, high = float(np.min(heights)), float(np.max(heights))
        if not door.is_door:
            continue
        if low < door.low_m - TOUCH_M or high > door.high_m + TOUCH_M:
            found.append(Need(door=k, rise_m=_rise_m(door=door, low_m=low, high_m=high)))
    return tuple(found)


def _rise_m(*, door: DoorRange, low_m: float, high_m: float) -> float:
    """The least that brings both ends into the range; where none does, the one that misses both alike."""
    least, most = door.low_m - low_m, door.high_m - high_m
    inset = min(INSIDE_M, max(0.0, most - least) / 2)
    least, most = least + inset, most - inset
    return float(np.clip(0.0, least, most)) if least <= most else (least + most) / 2


def combinations(*, missed: tuple[Need, ...], ways: DoorWays) -> list[tuple[Chosen, ...]]:
    """Every choice over the doors missed, at least one of which is changed. They depend on what is allowed
    and not on what it costs, so that a way which grows dearer is never chosen at more doors."""
    if len(missed) > MOST_WHOLE:
        counts = tuple(dict.fromkeys(ceil(share * len(missed)) for share in SHARES))
        return _in_order(missed=missed, ways=ways, counts=counts)
    few = len(missed) <= MOST_DOORS
    choices: list[tuple[Way, ...]] = [
        _choices(need, ways=ways, parts=PARTS if few else (1.0,)) for need in missed
    ]
    every = (tuple(one for one in combination if one is not None) for combination in product(*choices))
    return [combination for combination in every if combination]


def ramps_alone(*, missed: tuple[Need, ...], ways: DoorWays) -> list[tuple[Chosen, ...]]:
    """The choices over doors that the slab misses with a ramp among them, each door changed and each ramp
    going the whole way, for a slab that stays as it is elsewhere."""
    if len(missed) > MOST_WHOLE:
        found = _in_order(missed=missed, ways=ways, counts=(len(missed),))
        whole = (every for every in found if len(every) == len(missed))
        return [every for every in whole if any(one.way == "ramp" for one in every)]
    choices = [[one for one in _choices(need, ways=ways, parts=(1.0,)) if one is not None] for need in missed]
    return [every for every in product(*choices) if any(one.way == "ramp" for one in every)]


def _in_order(
    *, missed: tuple[Need, ...], ways: DoorWays, counts: tuple[int, ...]
) -> list[tuple[Chosen, ...]]:
    """So many of the doors that are missed most are changed, with one preference among some ways for all."""
    worst_first = sorted(missed, key=lambda need: -abs(need.rise_m))
    permitted: dict[DoorWay, bool] = {"ramp": ways.ramps, "transition": ways.transitions, "cut": ways.cuts}
    allowed = [way for way, is_permitted in permitted.items() if is_permitted]
    orders = [order for k in range(len(allowed)) for order in permutations(allowed, k + 1)]
    found = []
    for order, count in product(orders, counts):
        changed = [_first_that_meets(need, ways=ways, order=order) for need in worst_first[:count]]
        combination = sorted((one for one in changed if one is not None), key=lambda one: one.door)
        found.append(tuple(combination))
    return [combination for combination in dict.fromkeys(found) if combination]


def _first_that_meets(need: Need, *, ways: DoorWays, order: tuple[DoorWay, ...]) -> Way:
    """Of those that help at all; where none goes the whole way the first, and the surface takes the rest."""
    helping = [way for way in order if way != "cut" or need.rise_m < 0.0]
    reach = {
        "ramp": ways.ramp_slope * ways.greatest_ramp_m,
        "transition": ways.transition_m,
        "cut": ways.cut_m,
    }
    meeting = [way for way in helping if abs(need.rise_m) <= reach[way]]
    for way in (*meeting, *helping):
        if way != "ramp":
            return Chosen(door=need.door, way=way)
        (ramp,) = _ramps(need, ways=ways, parts=(1.0,))
        return ramp
    return None


def _choices(need: Need, *, ways: DoorWays, parts: tuple[float, ...]) -> tuple[Way, ...]:
    ramps = _ramps(need, ways=ways, parts=parts) if ways.ramps else []
    others: list[Way] = [None]
    if ways.transitions:
        others.append(Chosen(door=need.door, way="transition"))
    if ways.cuts and need.rise_m < 0.0:
        others.append(Chosen(door=need.door, way="cut"))
    return (*others, *ramps)


def _ramps(need: Need, *, ways: DoorWays, parts: tuple[float, ...]) -> list[Chosen]:
    """As short as the slope lets them be, and as long as they may be: the one takes less work where the ramp
    goes up, the other where it goes down."""
    steepest_m = ways.ramp_slope * ways.greatest_ramp_m
    made: list[Chosen] = []
    for part in parts:
        rise = float(np.clip(part * need.rise_m, -steepest_m, steepest_m))
        shortest = ceil(abs(rise) / ways.ramp_slope / LENGTH_STEP_M - 1e-9) * LENGTH_STEP_M
        shortest = min(max(shortest, ways.least_ramp_m), ways.greatest_ramp_m)
        lengths = (shortest, ways.greatest_ramp_m) if len(parts) > 1 else (shortest,)
        made += [
            Chosen(door=need.door, way="ramp", length_m=length, rise_m=rise)
            for length in dict.fromkeys(lengths)
        ]
    return made
