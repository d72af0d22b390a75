"""The floor near one plane or ruled surface: filled up to it, ground only where it stands too proud."""

import numpy as np

from slab_core.correction.connected import parts_of
from slab_core.correction.placing.depths import up_to_passes
from slab_core.correction.placing.pinned import strips_over
from slab_core.correction.placing.placed import Placed
from slab_core.correction.placing.spots import hand_cost, placed_parts, pour_cost
from slab_core.correction.placing.trowel import trowelled
from slab_core.correction.task import Task
from slab_core.correction.work import SKIN_MM
from slab_core.numerics.grid import Floats, Mask


def near_surface(
    *,
    name: str,
    task: Task,
    height_mm: Floats,
    spared_mm: float,
    abc_mm: Floats,
    twist_mm: float = 0.0,
    skin_mm: float = SKIN_MM,
) -> Placed | None:
    """Low places are filled to `height_mm`, high ones ground to at most `spared_mm` above it.

    All heights then lie within a band, so that no edge, however long, departs more than the band is wide and
    the surface itself bends; with nothing spared every node is brought to it but for skins. What keep-out
    zones forbid is left, and the rules tell whether it may be. Parts that no
    trowel can place are poured; where a pour ends thinner than its least lift it is feathered with the
    trowel. None if a limit is broken or something cannot be placed.
    """
    nodes, case = task.case.nodes, task.case
    depth = height_mm - nodes.z_mm
    proud = np.maximum(-depth - spared_mm, 0.0)
    grind = up_to_passes(proud) if spared_mm > 0.0 else np.where(proud > skin_mm, proud, 0.0)
    held = nodes.held & (np.abs(depth) > 0.0)
    grind = np.where(held, np.maximum(-depth, 0.0), grind)
    fill = np.where(held, np.maximum(depth, 0.0), np.where(depth > skin_mm, depth, 0.0))
    grind, fill = np.where(nodes.unground, 0.0, grind), np.where(nodes.unfilled, 0.0, fill)
    if fill.max(initial=0.0) > case.fill_cap_mm + 1e-3 or grind.max(initial=0.0) > case.grind_cap_mm + 1e-3:
        return None
    poured = _poured(task=task, fill_mm=fill)
    return placed_parts(
        name=name,
        task=task,
        fill_mm=fill,
        grind_mm=grind,
        poured=poured,
        pours=strips_over(nodes=nodes, poured=poured),
        abc_mm=abc_mm,
        twist_mm=twist_mm,
        whole_field=spared_mm <= 0.0,
    )


def _poured(*, task: Task, fill_mm: Floats) -> Mask:
    """Parts that no trowel can place; with them, or where that pays a pour day, what is cheaper so."""
    nodes, case = task.case.nodes, task.case
    must, may, saved = np.zeros_like(nodes.held), np.zeros_like(nodes.held), -case.costs.per_pour_day
    for part in parts_of(nodes=nodes, where=fill_mm > 0.0):
        deep = part[fill_mm[part] >= case.least_mm]
        made = trowelled(nodes=nodes, fill_mm=fill_mm, part=part, placing=task.placing)
        if made is None:
            must[deep] = True
            continue
        saves = hand_cost(task=task, made=made) - pour_cost(task=task, fill_mm=fill_mm, part=part)
        if saves > 0.0 and len(deep):
            may[deep] = True
            saved += saves
    return must | may if must.any() or saved > 0.0 else must
