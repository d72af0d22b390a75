"""A flat slab of 6 × 6 m to correct, and bowls to lay into it."""

import numpy as np

from slab_core.correction.task import Task
from slab_core.materials import starter
from slab_core.numerics.grid import Floats
from tests.invented_floors import rectangle, work


def flat_task() -> Task:
    """The slab under the usual rule, with starter values."""
    floor = rectangle(width_m=6.0, length_m=6.0)
    return work(floor=floor, height_m=lambda x, y: 0.0 * x, columns=60, compound=starter.compound()).task()


def bowl_mm(task: Task, *, radius_m: float, deep_mm: float, x: float = 3.0, y: float = 3.0) -> Floats:
    """How deep a paraboloid is at each node."""
    away = np.hypot(task.case.nodes.x - x, task.case.nodes.y - y)
    return np.asarray(np.maximum(0.0, deep_mm * (1.0 - (away / radius_m) ** 2)))
