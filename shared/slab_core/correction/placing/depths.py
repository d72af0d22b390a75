"""Depths that can be worked: fill without films, grinding in whole passes."""

from dataclasses import dataclass

import numpy as np

from slab_core.correction.connected import parts_of
from slab_core.correction.placing.shapes import Shape
from slab_core.correction.placing.trowel import is_small
from slab_core.correction.task import Task
from slab_core.correction.work import SKIN_MM
from slab_core.numerics.grid import Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Depths:
    """What is filled and ground at the nodes, in mm, and the heights that fill is brought to."""

    fill_mm: Floats
    grind_mm: Floats
    target_mm: Floats


def workable(*, task: Task, shape: Shape) -> Depths:
    """Fill without films, grinding in whole passes of the grinder and not over specks; at doorways, where the
    height itself counts, to a hair."""
    nodes = task.case.nodes
    # Between the nodes of a coarser lattice a shape reaches a little into keep-out zones.
    fills, grinds = shape.fill & ~nodes.unfilled, shape.grind & ~nodes.unground
    fill = np.where(fills, np.maximum(shape.target_mm - nodes.z_mm, 0.0), 0.0)
    fill[(fill < SKIN_MM) & ~nodes.held] = 0.0
    grind = np.where(grinds, np.maximum(nodes.z_mm - shape.target_mm, 0.0), 0.0)
    passes = np.where(nodes.held, grind, in_passes(task=task, grind_mm=grind))
    return Depths(fill_mm=fill, grind_mm=passes, target_mm=nodes.z_mm + fill)


def in_passes(*, task: Task, grind_mm: Floats) -> Floats:
    """The nearest whole number of passes, within the greatest depth, without specks."""
    nodes = task.case.nodes
    passes = np.minimum(np.rint(grind_mm / SKIN_MM), most_passes(task=task))
    grind = passes * SKIN_MM
    for part in parts_of(nodes=nodes, where=grind > 0.0):
        if is_small(nodes=nodes, part=part):
            grind[part] = 0.0
    return grind


def most_passes(*, task: Task) -> float:
    """The passes of a grinder within the greatest depth."""
    return float(np.floor(task.case.grind_cap_mm / SKIN_MM + 1e-9))


def up_to_passes(grind_mm: Floats) -> Floats:
    """The next whole number of passes, so that nothing stands prouder than it may."""
    return np.asarray(np.ceil(grind_mm / SKIN_MM - 1e-9) * SKIN_MM, dtype=np.float64)
