"""One correction task: what stays the same whichever plane is tried on a floor."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from slab_core.correction.family import ANY_PLANE, Family, LevelPoint, Row
from slab_core.correction.feasible import door_rows
from slab_core.correction.keep_outs import Zone, kept_off, zones_of
from slab_core.correction.level_points import level_height_mm, on_floor
from slab_core.correction.model import Limits
from slab_core.correction.nodes import floor_nodes
from slab_core.correction.placing_costs import PlacingCosts, placing_costs
from slab_core.correction.ramps_model import Ramped
from slab_core.correction.thresholds import DoorRange, door_ranges
from slab_core.correction.unit_costs import unit_costs
from slab_core.correction.work import Case, make_case
from slab_core.materials.model import Climate, Compound, Covering, Patch
from slab_core.materials.rates_model import PlanningCosts, Rates
from slab_core.numerics.grid import Mask
from slab_core.rooms.model import Floor
from slab_core.surface.model import Surface
from slab_core.tolerance.model import Rule


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Task:
    """A floor, its surface, its rules and everything that prices or limits its correction.

    `limits` and `case` are those of the family; every allowed plane meets the `rows`, which are the
    `family_rows` and the doorways'. `level_mm` is the height that a level plane has to have, if any. The
    nodes of `case` know what the keep-out `zones` forbid. Where there are ramps (`ramped`) its heights are
    the slab's less the ramps'.
    """

    floor: Floor
    surface: Surface
    rules: tuple[Rule, ...]
    limits: Limits
    rates: Rates
    compound: Compound
    climate: Climate
    case: Case
    doors: tuple[DoorRange, ...]
    family: Family
    level_mm: float | None
    family_rows: tuple[Row, ...]
    rows: tuple[Row, ...]
    placing: PlacingCosts
    zones: tuple[Zone, ...] = ()
    ramped: Ramped | None = None

    def as_measured(self) -> "Task":
        """With the slab's own heights, whatever ramps there are."""
        if self.ramped is None:
            return self
        nodes = replace(self.case.nodes, z_mm=self.ramped.slab_mm)
        return replace(self, case=replace(self.case, nodes=nodes))

    def without(self, zones: tuple[Zone, ...]) -> "Task":
        """As if these keep-out zones were not there."""
        rest, nodes = tuple(zone for zone in self.zones if zone not in zones), self.case.nodes
        unground, unfilled = kept_off(rest, count=len(nodes.x))
        nodes = replace(nodes, unground=unground, unfilled=unfilled)
        return replace(self, zones=rest, case=replace(self.case, nodes=nodes))

    def off_ramps(self) -> Mask:
        """Nodes (ny, nx) on which the floor's own rules hold."""
        away = self.surface.inside.copy()
        for zone in self.ramped.zones if self.ramped else ():
            away &= ~zone.on
        return away


def make_task(
    *,
    floor: Floor,
    surface: Surface,
    rules: tuple[Rule, ...],
    limits: Limits,
    planning: PlanningCosts,
    rates: Rates,
    compound: Compound,
    covering: Covering,
    adhesive_film_m: float,
    hardness: str,
    climate: Climate,
    room_pointers: Mapping[str, str] | None = None,
    patch: Patch = Patch(),
) -> Task:
    """Collect what every plane on this floor shares; `room_pointers` lead to its rooms in the posted job."""
    costs = unit_costs(rates=rates, planning=planning, compound=compound, hardness=hardness)
    pointers = room_pointers or {}
    zones = zones_of(floor=floor, grid=surface.grid, inside=surface.inside, room_pointers=pointers)
    nodes = floor_nodes(floor=floor, surface=surface, zones=zones)
    case = make_case(
        nodes=nodes, costs=costs, compound=compound, limits=limits,
        least_gap_m=min((rule.gap_m for rule in rules), default=0.0),
    )  # fmt: skip
    doors = door_ranges(
        floor=floor, build_up_m=adhesive_film_m + covering.thickness_m, room_pointers=pointers
    )
    return Task(
        floor=floor,
        surface=surface,
        rules=rules,
        limits=limits,
        rates=rates,
        compound=compound,
        climate=climate,
        case=case,
        doors=doors,
        family=ANY_PLANE,
        level_mm=None,
        family_rows=(),
        rows=tuple(row for door in doors for row in door_rows(case=case, door=door)),
        placing=placing_costs(rates=rates, planning=planning, patch=patch),
        zones=zones,
    )


def restricted(task: Task, *, family: Family, level_points: Sequence[LevelPoint] = ()) -> Task:
    """The task of any plane with what a family asks for on top; `level_points`, which hold for level planes
    alone, may lie on other floors too."""
    own = on_floor(points=level_points, floor=task.floor) if family.level else ()
    level_mm = level_height_mm(points=own, surface=task.surface)
    family_rows = family.rows(level_mm=level_mm)
    return replace(
        task,
        limits=replace(
            task.limits,
            greatest_fill_m=task.limits.greatest_fill_m if family.fills else 0.0,
            no_grinding=task.limits.no_grinding or not family.grinds,
        ),
        case=replace(
            task.case,
            grind_cap_mm=task.case.grind_cap_mm if family.grinds else 0.0,
            fill_cap_mm=task.case.fill_cap_mm if family.fills else 0.0,
        ),
        family=family,
        level_mm=level_mm,
        family_rows=family_rows,
        rows=(*family_rows, *task.rows),
    )
