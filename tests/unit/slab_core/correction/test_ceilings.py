"""Mending starts no patches of its own."""

import numpy as np
import pytest

from slab_core.correction.ceilings import LEAST_PATCH_M2, ceilings_mm, skim_mm
from slab_core.correction.model import Limits
from slab_core.correction.task import Task, make_task
from slab_core.correction.trowel import parts_of, trowelled
from slab_core.materials import starter
from slab_core.materials.model import Climate
from slab_core.numerics.grid import Floats
from tests.invented_floors import FILM_M, RULE, rectangle, slab


@pytest.fixture(scope="module")
def task() -> Task:
    floor = rectangle(width_m=6.0, length_m=6.0)
    return make_task(
        floor=floor,
        surface=slab(floor=floor, height_m=lambda x, y: 0.0 * x, columns=60),
        rules=(RULE,),
        limits=Limits(),
        planning=starter.planning_costs(),
        rates=starter.rates(),
        compound=starter.compound(),
        covering=starter.covering(),
        adhesive_film_m=FILM_M,
        hardness="ordinary",
        climate=Climate(),
    )


def _bowl(task: Task, *, radius_m: float, deep_mm: float, x: float = 3.0, y: float = 3.0) -> Floats:
    away = np.hypot(task.case.nodes.x - x, task.case.nodes.y - y)
    return np.asarray(np.maximum(0.0, deep_mm * (1.0 - (away / radius_m) ** 2)))


def _nowhere(task: Task) -> np.ndarray:
    return np.zeros(len(task.case.nodes.z_mm), dtype=np.bool_)


def test_only_where_a_patch_lies_may_mending_go_deeper_than_a_skim(task: Task) -> None:
    fill = _bowl(task, radius_m=0.8, deep_mm=8.0)
    most = ceilings_mm(task=task, fill_mm=fill, poured=_nowhere(task))
    assert (most[fill > skim_mm(task=task)] == task.placing.greatest_depth_mm).all()
    assert (most[fill == 0.0] == skim_mm(task=task)).all()


def test_a_speck_deeper_than_a_skim_gets_no_patch_of_its_own(task: Task) -> None:
    nodes = task.case.nodes
    fill = _bowl(task, radius_m=2.5, deep_mm=3.0)
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
    fill = _bowl(task, radius_m=2.5, deep_mm=20.0)
    most = ceilings_mm(task=task, fill_mm=fill, poured=fill > 0.0)
    assert (most[fill > 0.0] == task.case.fill_cap_mm).all()
