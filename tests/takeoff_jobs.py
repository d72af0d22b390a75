"""Jobs for the takeoff with plans made by hand, in which every quantity is known."""

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np

from slab_core.correction.model import GrindArea, Plan, Pour, Solve
from slab_core.layout.model import Layout
from slab_core.materials import starter
from slab_core.materials.model import Climate
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Grid
from slab_core.rooms.model import Floor, Obstacle, Opening, Rooms, Threshold
from slab_core.takeoff.model import Scope, Site, Takeoff, TakeoffLine
from slab_core.takeoff.take_off import take_off
from slab_core.tolerance.model import Rule, RuleReport, ToleranceReport
from slab_core.units.conversions import CUBIC_METRES_PER_CUBIC_FOOT as FOOT3_M3
from slab_core.units.conversions import SQUARE_METRES_PER_SQUARE_FOOT as FOOT2_M2
from slab_core.units.lengths import METRES_PER_FOOT as FOOT_M
from slab_core.units.lengths import METRES_PER_INCH as INCH_M
from tests.laid_floors import floor_of, laid, rectangle

RULE = Rule(length_m=10 * FOOT_M, gap_m=3 * INCH_M / 16)
TIGHT_RULE = Rule(length_m=20 * FOOT_M, gap_m=INCH_M / 16)

_GRID = Grid(x0_m=0.0, y0_m=0.0, step_m=1.0, nx=1, ny=1)
_NODE = np.zeros((1, 1), dtype=np.int32)


def pour(*, id: str = "bay-1", bags: int, ft2: float, border_ft: float = 0.0, **changes: Any) -> Pour:
    """A pour of so many bags over so many square feet."""
    volume = bags * 0.45 * FOOT3_M3 / 1.1
    made = Pour(
        id=id,
        phase=1,
        lift=1,
        outline=rectangle(0, 0, 1, 1),
        area_m2=ft2 * FOOT2_M2,
        volume_m3=volume,
        mean_depth_m=volume / (ft2 * FOOT2_M2),
        greatest_depth_m=INCH_M / 2,
        bags=bags,
        edge_m=border_ft * FOOT_M,
        minutes=10.0,
        flow_minutes=11.5,
    )
    return replace(made, **changes)


def plan(
    floor: Floor,
    *,
    pours: tuple[Pour, ...] = (),
    pour_days: int = 0,
    machine_hours: float = 0.0,
    hand_hours: float = 0.0,
    ground_ft3: float = 0.0,
    **changes: Any,
) -> Plan:
    """A plan with these pours and hours; each lift over another covers no new floor."""
    area = GrindArea(
        id="grind-1",
        phase=floor.rooms[0].phase,
        at=(1.0, 1.0),
        area_m2=2.0,
        volume_m3=ground_ft3 * FOOT3_M3,
        greatest_depth_m=INCH_M / 8,
        machine_hours=machine_hours,
        walls=(),
        hand_hours=hand_hours,
    )
    made = Plan(
        floor_id=floor.id,
        alternate="plane",
        solve=Solve(status="optimal", objective=1.0, bound=1.0),
        plane=(0.0, 0.0, 0.0),
        grid=_GRID,
        inside=np.ones((1, 1), dtype=np.bool_),
        grind=_NODE,
        fill=_NODE,
        grind_m3=ground_ft3 * FOOT3_M3,
        grind_m2=2.0 if ground_ft3 else 0.0,
        fill_m3=sum(p.volume_m3 for p in pours),
        fill_m2=sum(p.area_m2 for p in pours if p.lift == 1),
        greatest_grind_m=INCH_M / 8,
        greatest_fill_m=INCH_M / 2,
        mean_fill_m=INCH_M / 4,
        grinder_hours=machine_hours,
        hand_grinder_hours=hand_hours,
        pours=pours,
        grind_areas=(area,) if machine_hours or hand_hours or ground_ft3 else (),
        bags=sum(p.bags for p in pours),
        pour_days=pour_days,
        border_m=sum(p.edge_m for p in pours),
        after=(),
        passes=True,
    )
    return replace(made, **changes)


def report(floor: Floor, *, rule: Rule = RULE, passes: bool = False) -> ToleranceReport:
    """What the tolerance stage says, as far as the takeoff reads it."""
    line = RuleReport(
        rule=rule,
        used_length_m=rule.length_m,
        largest_m=2 * rule.gap_m,
        passes=passes,
        failing_share=0.3,
        worst=(),
        departure=_NODE,
    )
    return ToleranceReport(
        floor_id=floor.id,
        rules=(line,),
        passes=passes,
        fall_m=0.01,
        slope_x=0.0,
        slope_y=0.0,
        f_numbers=None,
    )


@cache
def _laid(floor: Floor) -> Layout:
    return laid(floor)


def taken_off(
    floors: tuple[Floor, ...],
    plans: tuple[Plan, ...],
    *,
    reports: tuple[ToleranceReport, ...] | None = None,
    layouts: tuple[Layout, ...] | None = None,
    scope: Scope = Scope(),
    site: Site = Site(built_year=1995),
    reading_count: int = 150,
    **changes: Any,
) -> Takeoff:
    """The takeoff with starter values; `changes` replace catalogue, rates and so on."""
    given: dict[str, Any] = {
        "catalogue": starter.catalogue(),
        "covering": starter.covering(),
        "rates": starter.rates(),
        "climate": Climate(),
        "budget": Budget(),
    }
    return take_off(
        rooms=Rooms(floors=floors),
        reading_count=reading_count,
        reports=reports or tuple(report(floor) for floor in floors),
        plans=plans,
        layouts=layouts or tuple(_laid(floor) for floor in floors),
        site=site,
        scope=scope,
        alternate="plane",
        **{**given, **changes},
    )


def whole_job(**changes: Any) -> Takeoff:
    """300 ft²: floating floor out, 24 bags, 6 mh and 3 mh by hand, a hearth, 15 ft of T-molding, 60 ft of
    base, 15 ft of carpet edge."""
    threshold = Threshold(low_m=0.0, high_m=0.02, transition="t-molding")
    openings = tuple(
        Opening(id=f"door-{k}", start=(x * FOOT_M, 0.0), end=((x + 5) * FOOT_M, 0.0), threshold=threshold)
        for k, x in enumerate((1.0, 8.0, 15.0))
    )
    hearth = Obstacle(
        id="hearth", kind="hearth", outline=rectangle(8 * FOOT_M, 12.4 * FOOT_M, 13 * FOOT_M, 14.4 * FOOT_M)
    )
    floor = floor_of(rectangle(0, 0, 21.53 * FOOT_M, 14.4 * FOOT_M), obstacles=(hearth,), openings=openings)
    floor = replace(floor, wall_m=60 * FOOT_M)
    pours = (
        pour(id="bay-1", bags=8, ft2=70, border_ft=22),
        pour(id="bay-2", bags=8, ft2=70, border_ft=18),
        pour(id="bay-3", bags=8, ft2=60, border_ft=20),
    )
    made = plan(floor, pours=pours, pour_days=1, machine_hours=6.0, hand_hours=3.0, ground_ft3=0.6)
    scope = Scope(removal="floating", furniture_rooms=1, base_off=True, carpet_edge_m=15 * FOOT_M)
    return taken_off((floor,), (made,), scope=scope, **changes)


def line(takeoff: Takeoff, code: str, product: str | None = None) -> TakeoffLine:
    """The one line of a code, and product where it matters."""
    found = [
        item
        for item in takeoff.lines
        if item.key.code == code and (product is None or item.key.product == product)
    ]
    assert len(found) == 1, f"{len(found)} lines of {code}"
    return found[0]
