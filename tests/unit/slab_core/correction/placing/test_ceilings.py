"""Mending starts no patches of its own."""

import numpy as np
import pytest

from slab_core.correction.connected import parts_of
from slab_core.correction.placing.ceilings import LEAST_PATCH_M2, ceilings_mm, skim_mm
from slab_core.correction.placing.trowel import trowelled
from slab_core.correction.task import Task
from tests.flat_slab import bowl_mm, flat_task


@pytest.fixture(scope="module")
def task() -> Task:
    return flat_task()


def _nowhere(task: Task) -> np.ndarray:
    return np.zeros(len(task.case.nodes.z_mm), dtype=np.bool_)


def test_only_where_a_patch_lies_may_mending_go_deeper_than_a_skim(task: Task) -> None:
    fill = bowl_mm(task, radius_m=0.8, deep_mm=8.0)
    most = ceilings_mm(task=task, fill_mm=fill, poured=_nowhere(task))
    assert (most[fill > skim_mm(task=task)] == task.placing.greatest_depth_mm).all()
    assert (most[fill == 0.0] == skim_mm(task=task)).all()


def test_a_speck_deeper_than_a_skim_gets_no_patch_of_its_own(task: Task) -> None:
    nodes = task.case.nodes
    fill = bowl_mm(task, radius_m=2.5, deep_mm=3.0)
    speck = int(np.argmin(np.hypot(nodes.x - 2.0, nodes.y - 2.0)))
    assert nodes.area_m2[speck] < LEAST_PATCH_M2
    fill[speck] = 3.4
    most = ceilings_mm(task=task, fill_mm=fill, poured=_nowhere(task))
    assert most[speck] == skim_mm(task=task) <= task.placing.greatest_skim_mm
    (part,) = parts_of(nodes=nodes, where=fill > 0.0)
    made = trowelled(nodes=nodes, fill_mm=np.minimum(fill, most), part=part, placing=task.placing)
    assert made is not None
    assert [one.method for one in made] == ["skim"]


def test_where_it_is_poured_only_the_floor_s_own_limit_holds(task: Task) -> None:
    fill = bowl_mm(task, radius_m=2.5, deep_mm=20.0)
    most = ceilings_mm(task=task, fill_mm=fill, poured=fill > 0.0)
    assert (most[fill > 0.0] == task.case.fill_cap_mm).all()
