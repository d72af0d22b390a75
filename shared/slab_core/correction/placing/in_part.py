"""Some parts of what is filled poured to pins, the rest trowelled."""

from dataclasses import replace

import numpy as np
from scipy import ndimage

from slab_core.correction.connected import AROUND, parts_of
from slab_core.correction.nodes import Nodes
from slab_core.correction.placing.depths import Depths
from slab_core.correction.placing.door_limits import door_limits_mm
from slab_core.correction.placing.mended import Mender
from slab_core.correction.placing.pinned import Pinned, Strips, pinned_to
from slab_core.correction.placing.spots import Draft, hand_cost, placed_of, pour_cost
from slab_core.correction.placing.trowel import trowelled
from slab_core.correction.task import Task
from slab_core.correction.work import SKIN_MM
from slab_core.numerics.grid import Floats, Ints, Mask

BESIDE_M = 0.2
"""A pour may run out so far beyond the place it is for."""

SPARE_MM = 0.5
"""So far within a doorway's range pins stand, or a quarter of it, as a pour is straight between them."""

MOST_TRIED = 12
"""So many pours, the smallest first, are tried with the trowel instead."""


def with_pours(*, task: Task, depths: Depths, bay_m: float, together: bool) -> Draft | None:
    """Parts that no trowel can place are poured to pins, and those for which a pour costs less once there is
    a pour day; None if nothing is poured.

    Each part has strips of its own, or all lie `together` in the same strips, whose bags are then rounded up
    once.
    """
    nodes, fill_mm = task.case.nodes, depths.fill_mm
    parts = parts_of(nodes=nodes, where=fill_mm > 0.0)
    chosen = [one for one in parts if _is_poured(task=task, fill_mm=fill_mm, part=one)]
    if not chosen or (together and len(chosen) == 1):
        return None
    parts = [np.concatenate(chosen)] if together else chosen
    return _drawn(task=task, depths=depths, target_mm=depths.target_mm, parts=parts, bay_m=bay_m)


def fitted_again(*, task: Task, draft: Draft, mender: Mender, bay_m: float) -> Draft:
    """The same parts poured to pins which are fitted to what the rules would have there, if every node were
    free to follow them. What is straight between pins is off that again, but less."""
    free = mender.mend(
        depths=draft.depths,
        fixed=np.zeros_like(draft.poured),
        most_mm=task.case.fill_caps_mm(),
    )
    target = task.case.nodes.z_mm + free.fill_mm - free.grind_mm
    parts = [np.flatnonzero(pour.where).astype(np.int32) for pour in draft.pours]
    kept = replace(free, fill_mm=np.where(draft.poured, free.fill_mm, draft.depths.fill_mm))
    kept = replace(kept, grind_mm=draft.depths.grind_mm)
    return _drawn(task=task, depths=kept, target_mm=target, parts=parts, bay_m=bay_m)


def _drawn(*, task: Task, depths: Depths, target_mm: Floats, parts: list[Ints], bay_m: float) -> Draft:
    """The parts poured to pins near the target, as far as that is deep enough, the rest as deep as it is."""
    nodes = task.case.nodes
    fill, poured = depths.fill_mm.copy(), np.zeros(len(nodes.z_mm), dtype=np.bool_)
    lowest, highest = door_limits_mm(task=task, doors=task.doors)
    firm = np.isfinite(lowest)
    spare = np.minimum(SPARE_MM, (highest[firm] - lowest[firm]) / 4.0)
    target_mm = target_mm.copy()
    target_mm[firm] = np.clip(target_mm[firm], lowest[firm] + spare, highest[firm] - spare)
    pours: list[Strips] = []
    for part in parts:
        fill[part] = 0.0
    for part in parts:
        pinned, here = _poured(task=task, target_mm=target_mm, firm=firm, part=part, bay_m=bay_m)
        depth = np.where(here, pinned.height_mm - nodes.z_mm, 0.0)
        fill = np.maximum(fill, np.minimum(depth, task.case.fill_cap_mm))
        deep = here & (depth >= max(task.case.least_mm, SKIN_MM))
        poured |= deep
        if deep.any():  # else pins that lie lower than the part leave nothing of it to pour
            pours.append(Strips(where=deep, bounds_m=pinned.bounds_m, stations_m=pinned.stations_m))
    grind = np.where(fill > 0.0, 0.0, depths.grind_mm)
    drawn = Depths(fill_mm=fill, grind_mm=grind, target_mm=nodes.z_mm + fill)
    return Draft(depths=drawn, poured=poured, pours=tuple(pours))


def thrifty(*, task: Task, draft: Draft) -> Draft:
    """The draft with small pours trowelled instead where that costs less, whole bags counted."""
    nodes, fill_mm = task.case.nodes, draft.depths.fill_mm
    best, cost = draft, _cost(task=task, draft=draft)
    parts = parts_of(nodes=nodes, where=draft.poured)
    for part in sorted(parts, key=lambda one: float(nodes.area_m2[one] @ fill_mm[one]))[:MOST_TRIED]:
        kept = np.ones(len(fill_mm), dtype=np.bool_)
        kept[part] = False
        pours = tuple(replace(p, where=p.where & kept) for p in best.pours if (p.where & kept).any())
        tried = replace(best, poured=best.poured & kept, pours=pours)
        less = _cost(task=task, draft=tried)
        if less < cost:
            best, cost = tried, less
    return best


def _cost(*, task: Task, draft: Draft) -> float:
    placed = placed_of(name="", task=task, draft=draft)
    return np.inf if placed is None else placed.cost


def _is_poured(*, task: Task, fill_mm: Floats, part: Ints) -> bool:
    made = trowelled(nodes=task.case.nodes, fill_mm=fill_mm, part=part, placing=task.placing)
    if made is None:
        return True
    deep_enough = fill_mm[part].max() >= 2.0 * task.case.least_mm
    poured = pour_cost(task=task, fill_mm=fill_mm, part=part)
    return bool(deep_enough) and poured < hand_cost(task=task, made=made)


def _poured(*, task: Task, target_mm: Floats, firm: Mask, part: Ints, bay_m: float) -> tuple[Pinned, Mask]:
    """The surface on pins over one part, and the nodes that it fills by more than a skin, if they may be."""
    nodes = task.case.nodes
    wide = _wider(nodes=nodes, part=part)
    inner = np.zeros_like(wide)
    inner[part] = True
    pinned = pinned_to(
        nodes=nodes,
        target_mm=target_mm,
        part=part,
        beside=np.flatnonzero(wide & ~inner).astype(np.int32),
        firm=firm,
        spacing_m=task.rates.pin_spacing_m,
        bay_m=bay_m,
    )
    above = wide & (pinned.height_mm - nodes.z_mm > SKIN_MM) & ~nodes.unfilled
    return pinned, above


def _wider(*, nodes: Nodes, part: Ints) -> Mask:
    """The part and what is within reach of a pour beside it."""
    grid = np.zeros_like(nodes.inside)
    marked = np.zeros(len(nodes.z_mm), dtype=np.bool_)
    marked[part] = True
    grid[nodes.inside] = marked
    rounds = max(1, round(BESIDE_M / nodes.grid.step_m))
    return np.asarray(ndimage.binary_dilation(grid, AROUND, iterations=rounds)[nodes.inside])
