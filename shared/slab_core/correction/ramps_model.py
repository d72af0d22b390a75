"""What may be done at a doorway that the floor does not meet, and what a plan does there. Lengths in m."""

from dataclasses import dataclass
from typing import Literal

from slab_core.numerics.grid import Floats, Ints, Mask
from slab_core.tolerance.model import Rule
from slab_core.units.lengths import METRES_PER_FOOT as FOOT_M
from slab_core.units.lengths import METRES_PER_INCH as INCH_M

DoorWay = Literal["ramp", "transition", "cut"]

RAMP_RULE = Rule(length_m=2 * FOOT_M, gap_m=INCH_M / 8)
RAMP_SLOPE = 1 / 96
"""1/8 in in a foot: common practice, no single source."""

GREATEST_RAMP_M = 6 * FOOT_M


@dataclass(frozen=True, slots=True, kw_only=True)
class DoorWays:
    """What a job allows at doorways, and what it takes beside compound and grinding. All values are common
    practice, no single source.

    `ramps`: within `least_ramp_m` to `greatest_ramp_m` of the doorway the slab rises or falls to it, by no
    more than `ramp_slope` against the rest, and is held to `ramp_rule` instead of the floor's rules.
    `transitions`: another strip takes `transition_m` more on either side of the threshold's range. `cuts`:
    the door's leaf is cut, so that the floor may lie `cut_m` higher. Hours are person-hours for each doorway;
    `transition_price` is the strip's, in the currency of the planning costs.
    """

    ramps: bool = True
    transitions: bool = True
    cuts: bool = True
    least_ramp_m: float = 2 * FOOT_M
    greatest_ramp_m: float = GREATEST_RAMP_M
    ramp_slope: float = RAMP_SLOPE
    ramp_rule: Rule = RAMP_RULE
    ramp_ph: float = 1.5
    transition_m: float = INCH_M / 4
    transition_ph: float = 0.75
    transition_price: float = 28.0
    cut_m: float = INCH_M / 2
    cut_ph: float = 0.75


@dataclass(frozen=True, slots=True, kw_only=True)
class DoorWork:
    """What a plan does at one doorway, beside the compound and the grinding that are in its totals.

    The finished floor lies between `low_m` and `high_m` there. A ramp of `length_m` brings the slab to
    `rise_m` above (negative: below) what the rest is brought to; it is held to `rule`, from which it and the
    floor around departs by `largest_m`, and it `passes`. `cost` is in the job's currency. `why` says in words
    what else was weighed.
    """

    room: str
    opening: str
    pointer: str
    way: DoorWay
    low_m: float
    high_m: float
    person_hours: float
    cost: float
    why: str
    length_m: float = 0.0
    rise_m: float = 0.0
    slope: float = 0.0
    rule: Rule | None = None
    largest_m: float = 0.0
    passes: bool = True


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RampZone:
    """Nodes (ny, nx) on a ramp, and those from which an edge of its `rule` may reach it."""

    on: Mask
    around: Mask
    rule: Rule


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ramped:
    """Ramps on a floor: `lift` is what they add to whatever surface the rest is brought to, in storage steps
    at the n nodes; `slab_mm` the slab's own heights there."""

    lift: Ints
    slab_mm: Floats
    zones: tuple[RampZone, ...]
