"""What stands in for a floor's correction where nobody has seen the slab: usual quantities, and no places."""

from collections import defaultdict
from dataclasses import dataclass
from math import ceil, exp

import numpy as np

from slab_core.correction.model import Plan, Pour, Solve
from slab_core.materials.model import Compound
from slab_core.materials.pour_days import day_count
from slab_core.materials.rates_model import Rates
from slab_core.materials.slab_kinds import Believed
from slab_core.numerics.grid import Grid
from slab_core.rooms.geometry import room_polygon
from slab_core.rooms.model import Floor
from slab_core.units.lengths import METRES_PER_INCH as INCH_M

MEAN_FILL_M = 3 * INCH_M / 8
"""Fill is so deep on average, and twice as deep where it is deepest (from memory)."""

HAND_SHARE = 0.3
"""Hours of the hand tool along walls for each hour of the large grinder for height (from memory)."""

_NOWHERE = Grid(x0_m=0.0, y0_m=0.0, step_m=1.0, nx=0, ny=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What is believed of bags and of hours of the large grinder for height, by the m²; None where nobody may
    grind. A floor takes no more bags than the one that is believed to be the `most` would."""

    bags: Believed
    grinding: Believed | None
    most: Believed | None = None


def unseen_plan(
    *, floor: Floor, expected: Expected, compound: Compound, rates: Rates, hardness: str, alternate: str
) -> Plan:
    """The median of what is believed, as pours of whole bags for each phase and hours of grinding. Heights,
    outlines and pins are not in it."""
    pours = tuple(
        pour
        for phase, area_m2 in sorted(phase_areas(floor).items())
        for pour in _pours(phase, area_m2, expected.bags, compound, rates)
    )
    hours = 0.0 if expected.grinding is None else exp(expected.grinding.mean) * floor.area_m2
    slow = rates.grinding_overhead * rates.hardness_factors.get(hardness, 1.0)
    filled_m2, filled_m3 = sum(pour.area_m2 for pour in pours), sum(pour.volume_m3 for pour in pours)
    nothing = np.zeros((0, 0), dtype=np.int32)
    return Plan(
        floor_id=floor.id,
        alternate=alternate,
        solve=Solve(status="not-needed", objective=0.0, bound=0.0),
        plane=None,
        grid=_NOWHERE,
        inside=nothing.astype(np.bool_),
        grind=nothing,
        fill=nothing,
        grind_m3=hours * rates.grinder_m3_per_mh / slow,
        grind_m2=0.0,
        fill_m3=filled_m3,
        fill_m2=filled_m2,
        greatest_grind_m=0.0,
        greatest_fill_m=max(pour.greatest_depth_m for pour in pours),
        mean_fill_m=filled_m3 / filled_m2,
        grinder_hours=hours,
        hand_grinder_hours=HAND_SHARE * hours,
        pours=pours,
        grind_areas=(),
        bags=sum(pour.bags for pour in pours),
        pour_days=_pour_days(pours, rates),
        border_m=floor.wall_m * min(1.0, filled_m2 / floor.area_m2),
        after=(),
        passes=False,
    )


def phase_areas(floor: Floor) -> dict[int, float]:
    """Slab area in m² of each phase, obstacles shared by the rooms' area."""
    found: defaultdict[int, float] = defaultdict(float)
    for room in floor.rooms:
        found[room.phase] += float(room_polygon(room).area)
    whole = sum(found.values())
    return {phase: floor.area_m2 * part / whole for phase, part in found.items()}


def _pours(
    phase: int, area_m2: float, believed: Believed, compound: Compound, rates: Rates
) -> tuple[Pour, ...]:
    """As few as days allow, each of whole bags."""
    bags = ceil(exp(believed.mean) * area_m2 - 1e-9)
    days = ceil(bags / rates.bags_per_day)
    counts = [bags * (k + 1) // days - bags * k // days for k in range(days)]
    return tuple(
        _pour(phase, k + 1, count, area_m2 * count / bags, compound, rates) for k, count in enumerate(counts)
    )


def _pour(phase: int, number: int, bags: int, most_m2: float, compound: Compound, rates: Rates) -> Pour:
    mixed_m3, of_slab = bags * compound.package.size, 1.0 + compound.waste_share
    area_m2 = min(most_m2, mixed_m3 / (MEAN_FILL_M * of_slab + compound.texture_m))
    volume_m3 = (mixed_m3 - area_m2 * compound.texture_m) / of_slab
    return Pour(
        id=f"allowed-{phase}-{number}",
        phase=phase,
        lift=1,
        outline=(),
        area_m2=area_m2,
        volume_m3=volume_m3,
        mean_depth_m=volume_m3 / area_m2,
        greatest_depth_m=2.0 * volume_m3 / area_m2,
        bags=bags,
        edge_m=0.0,
        minutes=60.0 * bags / rates.bags_per_hour,
        flow_minutes=compound.heals_minutes,
    )


def _pour_days(pours: tuple[Pour, ...], rates: Rates) -> int:
    by_phase: defaultdict[int, list[int]] = defaultdict(list)
    for pour in pours:
        by_phase[pour.phase].append(pour.bags)
    return sum(day_count(bags=bags, per_day=rates.bags_per_day) for bags in by_phase.values())
