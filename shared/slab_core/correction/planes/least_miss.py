"""Of the planes within the limits the one that misses the doorways least."""

from dataclasses import dataclass

import numpy as np

from slab_core.correction.family import Row
from slab_core.correction.feasible import Caps, add_broken_caps, door_rows
from slab_core.correction.linear import LinearProgramme
from slab_core.correction.planes.box import FROM_HEIGHTS, whole_box
from slab_core.correction.task import Task
from slab_core.correction.thresholds import DoorRange
from slab_core.correction.work import Case
from slab_core.numerics.grid import Floats

MET_MM = 0.01
"""A doorway missed by less is met: a storage step."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Miss:
    """`abc_mm` misses the doorways by at most `worst_mm`, and each by as little as that leaves."""

    abc_mm: Floats
    worst_mm: float


def least_miss(*, task: Task, doors: tuple[DoorRange, ...], caps: Caps) -> Miss | None:
    """Smallest greatest miss over the doorways, then smallest sum, of the planes of the task's family; None
    if family and caps contradict each other."""
    return _solved(case=task.case, doors=doors, caps=caps, held=task.family_rows)


def _solved(*, case: Case, doors: tuple[DoorRange, ...], caps: Caps, held: tuple[Row, ...]) -> Miss | None:
    """Variables: heights at the three points, the greatest miss, every doorway's own."""
    box, count = whole_box(case=case), len(doors)
    programme = LinearProgramme(
        cost=np.concatenate([np.zeros(3), [1.0], np.full(count, 1e-3)]),
        low=np.concatenate([box.low_mm, np.zeros(1 + count)]),
        high=np.concatenate([box.high_mm, np.full(1 + count, np.inf)]),
    )
    for held_row, least, greatest in held:
        wide = np.concatenate([held_row @ FROM_HEIGHTS, np.zeros(1 + count)])
        programme.add_row(coefficients=wide, low=least, high=greatest)
    for k, door in enumerate(doors):
        own = np.eye(count)[k]
        programme.add_row(coefficients=np.concatenate([np.zeros(3), [1.0], -own]), low=0.0)
        for abc_row, least, greatest in door_rows(case=case, door=door):
            row = abc_row @ FROM_HEIGHTS
            programme.add_row(coefficients=np.concatenate([row, [0.0], own]), low=least)
            programme.add_row(coefficients=np.concatenate([row, [0.0], -own]), high=greatest)
    while (answer := programme.solve()) is not None:
        abc = FROM_HEIGHTS @ answer.x[:3]
        broken = add_broken_caps(
            programme=programme, case=case, caps=caps, abc_mm=abc, basis=FROM_HEIGHTS, more=1 + count
        )
        if broken == 0.0:
            return Miss(abc_mm=abc, worst_mm=float(answer.x[3]))
    return None
