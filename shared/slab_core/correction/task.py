"""One correction task: what stays the same whichever plane is tried on a floor."""

from collections.abc import Mapping
from dataclasses import dataclass

from slab_core.correction.model import Limits
from slab_core.correction.nodes import floor_nodes
from slab_core.correction.thresholds import DoorRange, door_ranges
from slab_core.correction.unit_costs import unit_costs
from slab_core.correction.work import Case, make_case
from slab_core.materials.model import Climate, Compound, Covering, PlanningCosts, Rates
from slab_core.rooms.model import Floor
from slab_core.surface.model import Surface
from slab_core.tolerance.model import Rule


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Task:
    """A floor, its surface, its rules and everything that prices or limits its correction."""

    floor: Floor
    surface: Surface
    rules: tuple[Rule, ...]
    limits: Limits
    rates: Rates
    compound: Compound
    climate: Climate
    case: Case
    doors: tuple[DoorRange, ...]


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
) -> Task:
    """Collect what every plane on this floor shares; `room_pointers` lead to its rooms in the posted job."""
    costs = unit_costs(rates=rates, planning=planning, compound=compound, hardness=hardness)
    nodes = floor_nodes(floor=floor, surface=surface)
    return Task(
        floor=floor,
        surface=surface,
        rules=rules,
        limits=limits,
        rates=rates,
        compound=compound,
        climate=climate,
        case=make_case(nodes=nodes, costs=costs, compound=compound, limits=limits),
        doors=door_ranges(
            floor=floor, build_up_m=adhesive_film_m + covering.thickness_m, room_pointers=room_pointers or {}
        ),
    )
