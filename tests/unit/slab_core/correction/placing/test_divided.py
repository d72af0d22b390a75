"""Deep places that are too wide for the trowel are divided by skims."""

import numpy as np
import pytest

from slab_core.correction.connected import parts_of
from slab_core.correction.placing.ceilings import skim_mm
from slab_core.correction.placing.divided import LEAST_UNDONE, divided_mm, skimmed_mm
from slab_core.correction.placing.trowel import trowelled
from slab_core.correction.task import Task
from tests.flat_slab import bowl_mm, flat_task


@pytest.fixture(scope="module")
def task() -> Task:
    return flat_task()


@pytest.mark.parametrize(("radius_m", "deep_mm"), [(2.4, 6.0), (2.9, 9.0), (2.9, 12.0)])
def test_a_divided_place_can_be_trowelled_and_the_rest_stays_as_it_was(
    task: Task, radius_m: float, deep_mm: float
) -> None:
    nodes, fill = task.case.nodes, bowl_mm(task, radius_m=radius_m, deep_mm=deep_mm)
    (whole,) = parts_of(nodes=nodes, where=fill > 0.0)
    assert trowelled(nodes=nodes, fill_mm=fill, part=whole, placing=task.placing) is None
    most = divided_mm(task=task, fill_mm=fill)
    divided = np.minimum(fill, most)
    made = trowelled(nodes=nodes, fill_mm=divided, part=whole, placing=task.placing)
    assert made is not None
    assert all(one.area_m2 <= task.placing.greatest_patch_m2 + 1e-9 for one in made if one.method == "patch")
    assert (np.isinf(most) | (most == skim_mm(task=task))).all()
    assert (divided == fill)[np.isinf(most)].all()


def test_two_hollows_are_parted_at_the_saddle_between_them(task: Task) -> None:
    """Both together are wider than a patch, each is not: the skim lies where they meet."""
    fill = np.maximum(
        bowl_mm(task, radius_m=1.05, deep_mm=10.0, x=2.1), bowl_mm(task, radius_m=1.05, deep_mm=10.0, x=3.7)
    )
    nodes = task.case.nodes
    deep = parts_of(nodes=nodes, where=fill > skim_mm(task=task))
    assert len(deep) == 1
    assert nodes.area_m2[deep[0]].sum() > task.placing.greatest_patch_m2
    skimmed = np.isfinite(divided_mm(task=task, fill_mm=fill)) & (fill > skim_mm(task=task))
    assert skimmed.any()
    assert np.abs(nodes.x[skimmed] - 2.9).max() <= 0.15


def test_nothing_is_divided_that_a_patch_can_cover(task: Task) -> None:
    assert np.isinf(divided_mm(task=task, fill_mm=bowl_mm(task, radius_m=0.9, deep_mm=9.0))).all()


def test_a_place_that_is_hardly_deeper_than_a_skim_is_skimmed_and_a_patch_is_not(task: Task) -> None:
    skim = skim_mm(task=task)
    hardly = bowl_mm(task, radius_m=0.5, deep_mm=skim + 0.2, x=1.5)
    patch = bowl_mm(task, radius_m=0.5, deep_mm=9.0, x=4.5)
    over = task.case.nodes.area_m2 @ np.maximum(hardly - skim, 0.0)
    assert 0.0 < over < LEAST_UNDONE
    most = skimmed_mm(task=task, fill_mm=np.maximum(hardly, patch))
    assert (most[hardly > skim] == skim).all()
    assert np.isinf(most[hardly <= skim]).all()
