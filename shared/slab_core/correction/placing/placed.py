"""One way to bring a floor into its rules: what is ground, poured and trowelled, its cost and re-check."""

from dataclasses import dataclass, replace
from math import ceil
from typing import Any

import numpy as np

from slab_core.correction.bays import Bays
from slab_core.correction.endings import rim_m
from slab_core.correction.evaluate import to_mm
from slab_core.correction.kernels import FILL, GRIND, LEFT
from slab_core.correction.model import PourMethod
from slab_core.correction.placing.door_limits import corrected_along
from slab_core.correction.placing.run_out import runs_out
from slab_core.correction.placing.trowel import Trowelled
from slab_core.correction.task import Task
from slab_core.correction.thresholds import is_in_range
from slab_core.correction.work import Work, work_of_depths
from slab_core.numerics.grid import Floats, Ints, Mask


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Placed:
    """Grinding and fill at the nodes in storage steps; `poured` nodes are poured, other fill is trowelled.

    `work` is that of grinder and pours on the bays of `task`, whose costs hold for the `method` of its pours;
    `cost` is everything: `by_hand` too, `ending_m` of pours that stop on open floor, and the visit. With
    `whole_field` every node is brought to one surface.
    """

    name: str
    task: Task
    method: PourMethod
    grind: Ints
    fill: Ints
    poured: Mask
    by_hand: tuple[Trowelled, ...]
    work: Work
    patch_bags: int
    ending_m: float
    cost: float
    abc_mm: Floats | None = None
    twist_mm: float = 0.0
    whole_field: bool = False

    def hand_hours(self) -> float:
        """Person-hours of all that is trowelled, with the visit that it takes where nothing is poured."""
        return _hand_hours(task=self.task, by_hand=self.by_hand, pours=self.work.quantities.pour_days > 0)

    def is_free(self) -> bool:
        """Whether something is poured without pins."""
        return self.method == "free" and bool(self.poured.any())

    def top_mm(self) -> Floats:
        """Corrected heights at the nodes, less the ramps."""
        return self.task.case.nodes.z_mm + to_mm(self.fill - self.grind)


def place(
    *,
    name: str,
    task: Task,
    grind: Ints,
    fill: Ints,
    poured: Mask,
    by_hand: tuple[Trowelled, ...],
    bays: Bays | None = None,
    method: PourMethod = "screeded",
    abc_mm: Floats | None = None,
    twist_mm: float = 0.0,
    whole_field: bool = False,
) -> Placed:
    """Everything that this way takes, priced as every other way is."""
    own = _with(task=task, bays=bays, method=method)
    depth = to_mm(fill - grind)
    state: Any = np.where(poured, FILL, np.where(grind > 0, GRIND, LEFT)).astype(np.int8)
    work = work_of_depths(case=own.case, depth_mm=depth, state=state)
    ending_m = rim_m(task=task, poured=poured, fill=fill, grind=grind)
    bags = ceil(sum(part.bags for part in by_hand) - 1e-9)
    hours = _hand_hours(task=task, by_hand=by_hand, pours=work.quantities.pour_days > 0)
    placing = task.placing
    by_hand_cost = bags * placing.per_bag + hours * placing.per_ph
    return Placed(
        name=name, task=own, method=method, grind=grind, fill=fill, poured=poured, by_hand=by_hand, work=work,
        patch_bags=bags, ending_m=ending_m, cost=work.cost + by_hand_cost + ending_m * placing.per_dam_m,
        abc_mm=abc_mm, twist_mm=twist_mm, whole_field=whole_field,
    )  # fmt: skip


def poured_free(placed: Placed, *, task: Task) -> Placed:
    """The same heights poured without pins, but with an error that the rule must leave."""
    return place(
        name=placed.name,
        task=task,
        grind=placed.grind,
        fill=placed.fill,
        poured=placed.poured,
        by_hand=placed.by_hand,
        bays=placed.task.case.nodes.bays,
        method="free",
        abc_mm=placed.abc_mm,
        twist_mm=placed.twist_mm,
        whole_field=placed.whole_field,
    )


def meets_doors(placed: Placed) -> bool:
    """Whether the corrected slab lies within the range of every doorway, ramps apart. A whole field on one
    plane meets those that the plane was held to."""
    task, top_mm = placed.task, placed.top_mm()
    if placed.whole_field and placed.abc_mm is not None and placed.twist_mm == 0.0:
        return True
    return all(
        is_in_range(door=door, heights_m=corrected_along(door=door, nodes=task.case.nodes, top_mm=top_mm))
        for door in task.doors
    )


def _hand_hours(*, task: Task, by_hand: tuple[Trowelled, ...], pours: bool) -> float:
    visit = task.placing.ph_per_visit if by_hand and not pours else 0.0
    return sum(part.person_hours for part in by_hand) + visit


def runs_out_at_doors(placed: Placed) -> bool:
    """Whether no doorway is met by a ledge; a whole field runs straight on to its doorways."""
    return placed.whole_field or runs_out(task=placed.task, top_mm=placed.top_mm())


def _with(*, task: Task, bays: Bays | None, method: PourMethod) -> Task:
    """The task on these bays; a free pour needs no pins, and a day takes more of it."""
    case = task.case
    if bays is not None:
        case = replace(case, nodes=replace(case.nodes, bays=bays))
    if method == "free":
        costs = case.costs
        free = replace(
            costs,
            per_m2_filled=costs.per_m2_filled - costs.per_m2_pinned,
            bags_per_day=task.rates.most_bags(free=True),
        )
        case = replace(case, costs=free)
    return replace(task, case=case)
