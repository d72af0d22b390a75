"""How far the work of an earlier plan has come, by what was measured since. Lengths in m, volumes in m³."""

from dataclasses import dataclass
from typing import Literal

from slab_core.rooms.model import Point
from slab_core.tolerance.model import WallDistance

WorkKind = Literal["grind", "pour", "patch", "skim"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OffPlan:
    """A place that stands higher (`off_m` above 0) or lower than the work done there should have left it.

    `sd_m` is the standard error of the height now; two distances from walls find the place with a tape.
    """

    at: Point
    planned_m: float
    now_m: float
    off_m: float
    sd_m: float
    walls: tuple[WallDistance, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkProgress:
    """One area to grind, pour or patch of the earlier plan: planned, reached by what was measured, and left.

    `reached_m3` is what came off or on within the planned depth; what lies under later work counts as
    reached. So many `readings` that still count lie on it; without any it is taken to be done as planned,
    on the slab that those around tell. `left_grind_m3` and `left_fill_m3` are what the plan for what is
    left does there. Of work that is done `highest` and `lowest` say where it is farthest off, and `pins` how
    high it stands at each.
    """

    id: str
    kind: WorkKind
    phase: int
    done: bool
    readings: int
    area_m2: float
    planned_m3: float
    reached_m3: float
    left_grind_m3: float
    left_fill_m3: float
    highest: OffPlan | None = None
    lowest: OffPlan | None = None
    pins: tuple[OffPlan, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkSum:
    """What work takes: whole bags of compound and of patch, machine-hours without daily set-up."""

    grind_m3: float
    fill_m3: float
    bags: int
    patch_bags: int
    grinder_hours: float
    hand_grinder_hours: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """An earlier plan of the floor as it stands now.

    `round` counts the floor's plans, this one included. `done` is what the done work was planned to take,
    `left` what is left takes. `heights_kept` says that pours and grinding go on to the heights of the earlier
    plan; else new ones were chosen.
    """

    alternate: str
    round: int
    heights_kept: bool
    works: tuple[WorkProgress, ...]
    done: WorkSum
    left: WorkSum
