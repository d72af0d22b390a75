"""From heights to work that can be placed: each filled part is trowelled, or poured to pins."""

from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage

from slab_core.correction.depths import Depths
from slab_core.correction.evaluate import STEP_MM, to_mm
from slab_core.correction.mended import Mender
from slab_core.correction.model import PourMethod
from slab_core.correction.nodes import Nodes
from slab_core.correction.pinned import Pinned, bays_over, pinned_to
from slab_core.correction.placed import Placed, place
from slab_core.correction.task import Task
from slab_core.correction.trowel import AROUND, Trowelled, parts_of, trowelled
from slab_core.correction.work import SKIN_MM
from slab_core.numerics.grid import Floats, Ints, Mask

BESIDE_M = 0.2
"""A pour may run out so far beyond the place it is for."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Draft:
    """Depths, the nodes that are poured, and for each pour its nodes and the bounds of its strips."""

    depths: Depths
    poured: Mask
    pours: tuple[tuple[Mask, Floats], ...] = ()


def by_trowel(*, depths: Depths) -> Draft:
    """Everything that is filled is trowelled."""
    return Draft(depths=depths, poured=np.zeros(len(depths.fill_mm), dtype=np.bool_))


def with_pours(*, task: Task, depths: Depths, bay_m: float) -> Draft | None:
    """Parts that no trowel can place are poured to pins, and those for which a pour costs less once there is
    a pour day; None if nothing is poured."""
    nodes, fill_mm = task.case.nodes, depths.fill_mm
    parts = parts_of(nodes=nodes, where=fill_mm > 0.0)
    chosen = [one for one in parts if _is_poured(task=task, fill_mm=fill_mm, part=one)]
    if not chosen:
        return None
    fill, poured = fill_mm.copy(), np.zeros(len(fill_mm), dtype=np.bool_)
    pours: list[tuple[Mask, Floats]] = []
    for part in chosen:
        fill[part] = 0.0
    for part in chosen:
        pinned, here = _poured(task=task, depths=depths, part=part, bay_m=bay_m)
        depth = np.where(here, pinned.height_mm - nodes.z_mm, 0.0)
        fill = np.maximum(fill, np.minimum(depth, task.case.fill_cap_mm))
        deep = here & (depth >= max(task.case.least_mm, SKIN_MM))
        poured |= deep
        pours.append((deep, pinned.bounds_m))
    grind = np.where(fill > 0.0, 0.0, depths.grind_mm)
    drawn = Depths(fill_mm=fill, grind_mm=grind, target_mm=nodes.z_mm + fill)
    return Draft(depths=drawn, poured=poured, pours=tuple(pours))


def mended(*, draft: Draft, mender: Mender) -> Draft:
    """The draft with what still breaks a rule filled or ground by just so much; pours stay as they are."""
    return replace(draft, depths=mender.mend(depths=draft.depths, fixed=draft.poured))


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
    pours: list[tuple[Mask, Floats]],
    method: PourMethod = "screeded",
    abc_mm: Floats | None = None,
    twist_mm: float = 0.0,
    whole_field: bool = False,
) -> Placed | None:
    """The poured nodes in their bays, and what else is filled with a trowel; None if that cannot be."""
    nodes, fill = task.case.nodes, steps(fill_mm)
    rest = parts_of(nodes=nodes, where=(fill > 0) & ~poured)
    hand = _hand(task=task, fill_mm=to_mm(fill), parts=rest)
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


def _is_poured(*, task: Task, fill_mm: Floats, part: Ints) -> bool:
    made = trowelled(nodes=task.case.nodes, fill_mm=fill_mm, part=part, placing=task.placing)
    if made is None:
        return True
    deep_enough = fill_mm[part].max() >= 2.0 * task.case.least_mm
    poured = pour_cost(task=task, fill_mm=fill_mm, part=part)
    return bool(deep_enough) and poured < hand_cost(task=task, made=made)


def _hand(*, task: Task, fill_mm: Floats, parts: list[Ints]) -> tuple[Trowelled, ...] | None:
    made: list[Trowelled] = []
    for part in parts:
        way = trowelled(nodes=task.case.nodes, fill_mm=fill_mm, part=part, placing=task.placing)
        if way is None:
            return None
        made += way
    return tuple(made)


def _poured(*, task: Task, depths: Depths, part: Ints, bay_m: float) -> tuple[Pinned, Mask]:
    """The surface on pins over one part, and the nodes that it fills by more than a skin."""
    nodes = task.case.nodes
    wide = _wider(nodes=nodes, part=part)
    inner = np.zeros_like(wide)
    inner[part] = True
    pinned = pinned_to(
        nodes=nodes,
        target_mm=depths.target_mm,
        part=part,
        beside=np.flatnonzero(wide & ~inner).astype(np.int32),
        spacing_m=task.rates.pin_spacing_m,
        bay_m=bay_m,
    )
    above = wide & (pinned.height_mm - nodes.z_mm > SKIN_MM)
    return pinned, above


def _wider(*, nodes: Nodes, part: Ints) -> Mask:
    """The part and what is within reach of a pour beside it."""
    grid = np.zeros_like(nodes.inside)
    marked = np.zeros(len(nodes.z_mm), dtype=np.bool_)
    marked[part] = True
    grid[nodes.inside] = marked
    rounds = max(1, round(BESIDE_M / nodes.grid.step_m))
    return np.asarray(ndimage.binary_dilation(grid, AROUND, iterations=rounds)[nodes.inside])
