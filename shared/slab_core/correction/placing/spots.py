"""From heights to work that can be placed: poured nodes in their bays, other fill with a trowel."""

from dataclasses import dataclass, replace

import numpy as np

from slab_core.correction.connected import parts_of
from slab_core.correction.evaluate import to_mm
from slab_core.correction.model import PourMethod
from slab_core.correction.placing.ceilings import ceilings_mm, skim_mm
from slab_core.correction.placing.depths import Depths
from slab_core.correction.placing.mended import Mender
from slab_core.correction.placing.pinned import Strips, bays_over
from slab_core.correction.placing.placed import Placed, place
from slab_core.correction.placing.trowel import Trowelled, trowelled
from slab_core.correction.task import Task
from slab_core.numerics.grid import STEP_MM, Floats, Ints, Mask


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Draft:
    """Depths, the nodes that are poured, and the strips of each pour."""

    depths: Depths
    poured: Mask
    pours: tuple[Strips, ...] = ()


def by_trowel(*, depths: Depths) -> Draft:
    """Everything that is filled is trowelled."""
    return Draft(depths=depths, poured=np.zeros(len(depths.fill_mm), dtype=np.bool_))


def mended(*, draft: Draft, mender: Mender) -> Draft:
    """The draft with what still breaks a rule filled or ground by just so much; pours stay as they are."""
    depths = draft.depths
    most_mm = ceilings_mm(task=mender.task, fill_mm=depths.fill_mm, poured=draft.poured)
    return replace(draft, depths=mender.mend(depths=depths, fixed=draft.poured, most_mm=most_mm))


def placed_of(*, name: str, task: Task, draft: Draft) -> Placed | None:
    """The draft with its price; None if what is not poured is too deep or too wide for the trowel."""
    return placed_parts(
        name=name,
        task=task,
        fill_mm=draft.depths.fill_mm,
        grind_mm=draft.depths.grind_mm,
        poured=draft.poured,
        pours=list(draft.pours),
    )


def placed_parts(
    *,
    name: str,
    task: Task,
    fill_mm: Floats,
    grind_mm: Floats,
    poured: Mask,
    pours: list[Strips],
    method: PourMethod = "screeded",
    abc_mm: Floats | None = None,
    twist_mm: float = 0.0,
    whole_field: bool = False,
) -> Placed | None:
    """The poured nodes in their bays, and what else is filled with a trowel; None if that cannot be."""
    nodes, skim = task.case.nodes, skim_mm(task=task)
    hair = ~poured & (fill_mm > skim) & (fill_mm < task.case.least_mm)
    fill = steps(np.where(hair, skim, fill_mm))
    hand = trowelled_parts(task=task, fill=fill, poured=poured)
    if hand is None:
        return None
    return place(
        name=name,
        task=task,
        grind=steps(grind_mm),
        fill=fill,
        poured=poured & (fill > 0),
        by_hand=hand,
        bays=bays_over(nodes=nodes, pours=pours) if poured.any() else None,
        method=method,
        abc_mm=abc_mm,
        twist_mm=twist_mm,
        whole_field=whole_field,
    )


def steps(depth_mm: Floats) -> Ints:
    """Depths as whole storage steps."""
    return np.asarray(np.rint(depth_mm / STEP_MM), dtype=np.int32)


def pour_cost(*, task: Task, fill_mm: Floats, part: Ints) -> float:
    """What it costs to pour a part on a day on which something is poured anyway."""
    area, costs = task.case.nodes.area_m2[part], task.case.costs
    bags = float(area @ fill_mm[part]) * costs.bags_per_m2_mm + float(area.sum()) * costs.bags_per_m2_texture
    return bags * costs.per_bag + float(area.sum()) * costs.per_m2_filled


def hand_cost(*, task: Task, made: tuple[Trowelled, ...]) -> float:
    """What parts cost by hand, with the bags really mixed."""
    placing = task.placing
    return sum(one.bags * placing.per_bag + one.person_hours * placing.per_ph for one in made)


def trowelled_parts(*, task: Task, fill: Ints, poured: Mask) -> tuple[Trowelled, ...] | None:
    """How all that is filled and not poured is trowelled; None if something is too deep or too wide."""
    made: list[Trowelled] = []
    fill_mm = to_mm(fill)
    for part in parts_of(nodes=task.case.nodes, where=(fill > 0) & ~poured):
        way = trowelled(nodes=task.case.nodes, fill_mm=fill_mm, part=part, placing=task.placing)
        if way is None:
            return None
        made += way
    return tuple(made)
