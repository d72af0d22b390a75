"""How deep each place may be filled while the last hair is mended, so that mending starts no patch.

A skim has no start of its own, a patch has: a node that is mended from just under the greatest skim to just
over it would cost a patch's hours for a few square centimetres.
"""

from math import floor

import numpy as np

from slab_core.correction.connected import parts_of
from slab_core.correction.placing.run_out import asked_fill_mm
from slab_core.correction.placing.trowel import trowelled
from slab_core.correction.task import Task
from slab_core.numerics.grid import STEP_MM, Floats, Mask

LEAST_PATCH_M2 = 0.05
"""A smaller deep place in a skim is skimmed too, as far as the rules allow it (from memory)."""


def ceilings_mm(*, task: Task, fill_mm: Floats, poured: Mask) -> Floats:
    """The greatest fill at each node: that of the floor where it is poured, that of the trowel where a patch
    of some size lies or a doorway asks for one, a skim's everywhere else."""
    nodes, placing, skim = task.case.nodes, task.placing, skim_mm(task=task)
    most, asked = np.full(len(fill_mm), skim), asked_fill_mm(task=task)
    for part in parts_of(nodes=nodes, where=(fill_mm > 0.0) & ~poured):
        made = trowelled(nodes=nodes, fill_mm=fill_mm, part=part, placing=placing)
        if made is None:
            most[part] = placing.greatest_depth_mm
            continue
        for one in made:
            is_meant = one.area_m2 >= LEAST_PATCH_M2 or asked[one.nodes].max() > skim
            if one.method == "patch" and is_meant:
                most[one.nodes] = placing.greatest_depth_mm
    most[poured] = np.inf
    return np.asarray(np.minimum(most, task.case.fill_caps_mm()), dtype=np.float64)


def skim_mm(*, task: Task) -> float:
    """The greatest skim in whole storage steps."""
    return floor(task.placing.greatest_skim_mm / STEP_MM + 1e-6) * STEP_MM
