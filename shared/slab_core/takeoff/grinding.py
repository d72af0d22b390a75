"""Grinding hours: for bond over all that is poured or glued, for height where the plan grinds, and edges."""

from collections.abc import Iterator
from math import ceil

from slab_core.takeoff.areas import WorkArea
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.codes import FLOOR_GRINDER, HAND_GRINDER
from slab_core.takeoff.entries import Effort, hours, m, m2, rate
from slab_core.units.display import millimetres

LEAVES_RESIDUE = frozenset({"glued-wood", "tile"})
GRINDING_HOURS_PER_DAY = 6.0
"""Machine-hours of a grinding day (from memory)."""


def grinding(brief: Brief, area: WorkArea) -> Iterator[Effort]:
    """Height first, then bond, as they follow on the slab; each with the hand tool along walls."""
    bond_mh = _bond_mh(brief, area)
    set_up_mh = brief.rates.grinder_set_up_mh_per_day * ceil(
        (bond_mh + area.grinder_hours) / GRINDING_HOURS_PER_DAY - 1e-9
    )
    if area.grinder_hours > 0:
        yield _height(brief, area, set_up_mh=0.0 if bond_mh else set_up_mh)
    if area.hand_grinder_hours > 0:
        yield _by_hand(brief, area)
    if bond_mh > 0:
        yield _bond(brief, area, bond_mh=bond_mh, set_up_mh=set_up_mh)
        yield _edges(brief, area)


def _bond_mh(brief: Brief, area: WorkArea) -> float:
    if "bond-grind" in brief.finished or not brief.bonds():
        return 0.0
    kept_m2, _ = area.kept_off()
    return (area.m2 - kept_m2) / _bond_rate(brief)


def _bond_rate(brief: Brief) -> float:
    residue = brief.rates.residue_share if brief.scope.removal in LEAVES_RESIDUE else 1.0
    return brief.rates.bond_grinding_m2_per_mh * residue


def _effort(
    area: WorkArea, *, code: str, machine: str, mh: float, formula: str, inputs: dict[str, str], stage: str
) -> Effort:
    """One person runs one machine."""
    return Effort(
        code=code,
        floor=area.floor,
        phase=area.phase,
        person_hours=mh,
        machines=((machine, mh),),
        formula=formula,
        inputs=inputs,
        stage=stage,
    )


def _height(brief: Brief, area: WorkArea, *, set_up_mh: float) -> Effort:
    return _effort(
        area,
        code="grind",
        machine=FLOOR_GRINDER,
        mh=area.grinder_hours + set_up_mh,
        formula="hours of the plan + set-up; the plan's are volume / rate × overhead × hardness × depth, "
        "place by place",
        inputs={
            **_places(brief, area, by_hand=False),
            "plan": hours(area.grinder_hours),
            "set-up": hours(set_up_mh),
            **_hourly(brief, brief.rates.grinder_m3_per_mh),
        },
        stage="correction",
    )


def _by_hand(brief: Brief, area: WorkArea) -> Effort:
    return _effort(
        area,
        code="hand-grind",
        machine=HAND_GRINDER,
        mh=area.hand_grinder_hours,
        formula="hours of the plan along walls, where the large machine does not reach: volume / rate × "
        "overhead × hardness × depth, place by place",
        inputs={
            **_places(brief, area, by_hand=True),
            "plan": hours(area.hand_grinder_hours),
            **_hourly(brief, brief.rates.hand_grinder_m3_per_mh),
        },
        stage="correction",
    )


def _places(brief: Brief, area: WorkArea, *, by_hand: bool) -> dict[str, str]:
    """What is ground at each place of the plan, by both tools together, and the hours of this one."""
    found = {}
    for place in brief.plan(area.floor).grind_areas:
        mh = place.hand_hours if by_hand else place.machine_hours
        if place.phase == area.phase and mh > 0:
            ground = f"{place.volume_m3 * 1000:.1f} L in all off {m2(place.area_m2)}"
            found[place.id] = f"{ground}, up to {millimetres(place.greatest_depth_m)} deep: {hours(mh)}"
    return found


def _hourly(brief: Brief, m3_per_mh: float) -> dict[str, str]:
    """The figures that the plan's hours come from."""
    rates, hardness = brief.rates, brief.site.hardness
    *slices, (_, below) = rates.depth_factors
    deep = [f"× {share:g} down to {millimetres(depth_m)}" for depth_m, share in slices]
    return {
        "rate": rate(m3_per_mh * 1000, "L a mh"),
        "overhead": f"× {rates.grinding_overhead:g}",
        "hardness": f"{hardness}, × {rates.hardness_factors.get(hardness, 1.0):g}",
        "depth": ", ".join([*deep, f"× {below:g} deeper"]),
    }


def _bond(brief: Brief, area: WorkArea, *, bond_mh: float, set_up_mh: float) -> Effort:
    residue = "residue of the old floor" if brief.scope.removal in LEAVES_RESIDUE else "clean concrete"
    kept_m2, _ = area.kept_off()
    return _effort(
        area,
        code="bond-grind",
        machine=FLOOR_GRINDER,
        mh=bond_mh + set_up_mh,
        formula="floor poured or glued / rate + set-up",
        inputs={
            "floor": m2(area.m2 - kept_m2),
            **({"in keep-out zones, not ground": m2(kept_m2)} if kept_m2 else {}),
            "slab": residue,
            "rate": rate(_bond_rate(brief), "m² a mh"),
            "set-up": hours(set_up_mh),
        },
        stage="rooms",
    )


def _edges(brief: Brief, area: WorkArea) -> Effort:
    wall_m = area.wall_m - area.kept_off()[1]
    return _effort(
        area,
        code="edge-grind",
        machine=HAND_GRINDER,
        mh=wall_m / brief.rates.edge_grinding_m_per_mh,
        formula="wall / rate",
        inputs={"wall": m(wall_m), "rate": rate(brief.rates.edge_grinding_m_per_mh, "m a mh")},
        stage="rooms",
    )
