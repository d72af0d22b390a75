"""The parts of a job that are worked one after the other: each floor by its phases."""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import groupby

from slab_core.correction.model import PatchArea, Plan, Pour
from slab_core.layout.edges import casing_legs_of, undercut_m_of
from slab_core.layout.model import Layout, Spread, TransitionRun
from slab_core.rooms.geometry import kept_off, room_polygon, room_wall_m
from slab_core.rooms.model import Floor, Room, Rooms

Shares = dict[int, float]
"""Share of something that each phase of a floor has; the shares add up to 1."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WorkArea:
    """What one phase of one floor has to be done on. Hours of grinding are without set-up."""

    floor: str
    phase: int
    rooms: tuple[Room, ...]
    m2: float
    wall_m: float
    pours: tuple[Pour, ...]
    poured_m2: float
    border_m: float
    pour_days: float
    grinder_hours: float
    hand_grinder_hours: float
    ground_m3: float
    spreads: tuple[Spread, ...]
    laid_m2: float
    transitions: tuple[TransitionRun, ...]
    undercut_m: float
    casing_legs: float
    cuts: float
    ripped_m: float
    patches: tuple[PatchArea, ...] = ()
    ending_m: float = 0.0

    def bags(self) -> int:
        """Whole bags over all pours."""
        return sum(pour.bags for pour in self.pours)

    def further_lifts_m2(self) -> float:
        """Area poured on an earlier lift."""
        return sum(self.on_lifts_m2().values())

    def on_lifts_m2(self) -> dict[int, float]:
        """Area on which each lift goes over another of this plan, by lift."""
        areas: dict[int, float] = {}
        for pour in self.pours:
            if pour.below_m > 0.0:
                areas[pour.lift + 1] = areas.get(pour.lift + 1, 0.0) + pour.area_m2
        return areas

    def slab_shares(self) -> dict[int, float]:
        """Share of the poured slab on which each lift is the first, by lift; it may be 0."""
        covered = {pour.lift: 0.0 for pour in self.pours}
        for pour in self.pours:
            covered[pour.lift] += pour.area_m2
        on_lifts = self.on_lifts_m2()
        first = {lift: max(0.0, m2 - on_lifts.get(lift, 0.0)) for lift, m2 in sorted(covered.items())}
        whole = sum(first.values())
        return {lift: m2 / whole for lift, m2 in first.items()}

    def pin_count(self, *, spacing_m: float) -> int:
        """Pins set out in the plan; without any, one for each square of the spacing, but none in a free
        pour."""
        if self.pours and all(pour.method == "free" for pour in self.pours):
            return 0
        set_out = sum(len(pour.pins) for pour in self.pours)
        return set_out or round(self.poured_m2 / spacing_m**2)

    def kept_off(self) -> tuple[float, float]:
        """What of the floor (m²) and of its walls (m) lies in keep-out zones, where nothing is ground."""
        kept = [kept_off(room) for room in self.rooms]
        m2, wall_m = sum(m2 for m2, _ in kept), sum(wall_m for _, wall_m in kept)
        return min(m2, self.m2), min(wall_m, self.wall_m)

    def ways_out_m(self) -> float:
        """Width of the openings that lead out of the floor."""
        return sum(_width_m(o.start, o.end) for r in self.rooms for o in r.openings if o.to_room is None)


def work_areas(*, rooms: Rooms, plans: tuple[Plan, ...], layouts: tuple[Layout, ...]) -> tuple[WorkArea, ...]:
    """Every floor's phases, floors and phases in order.

    What the plan and the layout know only for the whole floor is shared: by the pours' area and bags,
    by the ground areas' hours, by the area of boards, by the rooms' doors and hearths, or else by the rooms'
    area.
    """
    by_plan = {plan.floor_id: plan for plan in plans}
    by_layout = {layout.floor_id: layout for layout in layouts}
    return tuple(
        area
        for floor in rooms.floors
        for area in _areas_of(floor=floor, plan=by_plan[floor.id], layout=by_layout[floor.id])
    )


def _areas_of(*, floor: Floor, plan: Plan, layout: Layout) -> list[WorkArea]:
    by_area = _room_shares(floor, lambda room: float(room_polygon(room).area), {})
    legs = casing_legs_of(floor=floor)
    cut = undercut_m_of(floor=floor)
    phases = sorted(by_area)
    pour_m2 = _shares(phases, [(p.phase, p.area_m2) for p in plan.pours], by_area)
    bags = _shares(phases, [(p.phase, float(p.bags)) for p in plan.pours], by_area)
    machine = _shares(phases, [(g.phase, g.machine_hours) for g in plan.grind_areas], by_area)
    hand = _shares(phases, [(g.phase, g.hand_hours) for g in plan.grind_areas], by_area)
    ground = _shares(phases, [(g.phase, g.volume_m3) for g in plan.grind_areas], by_area)
    border = _shares(phases, [(p.phase, p.edge_m) for p in plan.pours], pour_m2)
    walls = _room_shares(floor, room_wall_m, by_area)
    leg_shares = _room_shares(floor, lambda room: float(legs[room.id]), by_area)
    cut_shares = _room_shares(floor, lambda room: cut[room.id], by_area)
    boards = _shares(phases, [(s.phase, s.area_m2) for s in layout.spreads], by_area)
    by_hand_m2 = sum(patch.area_m2 for patch in plan.patches)
    areas = []
    for phase in phases:
        rooms = tuple(room for room in floor.rooms if room.phase == phase)
        names = {room.id for room in rooms}
        spreads = tuple(spread for spread in layout.spreads if spread.phase == phase)
        areas.append(
            WorkArea(
                floor=floor.id,
                phase=phase,
                rooms=rooms,
                m2=floor.area_m2 * by_area[phase],
                wall_m=floor.wall_m * walls[phase],
                pours=tuple(pour for pour in plan.pours if pour.phase == phase),
                # A difference of equal sums is not quite nothing.
                poured_m2=(plan.fill_m2 - by_hand_m2) * pour_m2[phase] if plan.pours else 0.0,
                border_m=plan.border_m * border[phase],
                pour_days=plan.pour_days * bags[phase],
                grinder_hours=plan.grinder_hours * machine[phase],
                hand_grinder_hours=plan.hand_grinder_hours * hand[phase],
                ground_m3=plan.grind_m3 * ground[phase],
                spreads=spreads,
                laid_m2=sum(spread.area_m2 for spread in spreads),
                cuts=layout.cuts * boards[phase],
                ripped_m=layout.ripped_m * boards[phase],
                transitions=tuple(t for t in layout.transitions if t.opening.split("/")[0] in names),
                undercut_m=layout.undercut_m * cut_shares[phase],
                casing_legs=layout.casing_legs * leg_shares[phase],
                patches=tuple(patch for patch in plan.patches if patch.phase == phase),
                ending_m=plan.ending_m * pour_m2[phase],
            )
        )
    return areas


def _shares(phases: list[int], parts: list[tuple[int, float]], otherwise: Shares) -> Shares:
    whole = sum(size for _, size in parts)
    if whole <= 0:
        return otherwise
    return {phase: sum(size for at, size in parts if at == phase) / whole for phase in phases}


def _room_shares(floor: Floor, size: Callable[[Room], float], otherwise: Shares) -> Shares:
    rooms = sorted(floor.rooms, key=lambda room: room.phase)
    sums = {phase: sum(map(size, group)) for phase, group in groupby(rooms, key=lambda room: room.phase)}
    whole = sum(sums.values())
    return {phase: part / whole for phase, part in sums.items()} if whole > 0 else otherwise


def _width_m(start: tuple[float, float], end: tuple[float, float]) -> float:
    return float(((end[0] - start[0]) ** 2 + (end[1] - start[1]) ** 2) ** 0.5)
