"""Connected parts of nodes, and what lies next to one."""

import numpy as np
import pytest
from scipy import ndimage

from slab_core.correction.connected import AROUND, beside, parts_of
from slab_core.correction.nodes import Nodes
from slab_core.numerics.grid import Mask
from tests.invented_floors import rectangle, work


@pytest.fixture(scope="module")
def nodes() -> Nodes:
    floor = rectangle(width_m=2.0, length_m=3.0)
    return work(floor=floor, height_m=lambda x, y: 0.0 * x * y, columns=20).task().case.nodes


def _on_grid(nodes: Nodes, where: Mask) -> Mask:
    grid = np.zeros(nodes.inside.shape, dtype=np.bool_)
    grid[nodes.inside] = where
    return grid


@pytest.mark.parametrize("seed", range(8))
def test_beside_a_part_lies_what_it_grows_into_by_one_node_all_around(nodes: Nodes, seed: int) -> None:
    where = np.random.default_rng(seed).random(len(nodes.z_mm)) < 0.05
    grown = ndimage.binary_dilation(_on_grid(nodes, where), AROUND)[nodes.inside]
    found = beside(nodes=nodes, part=np.flatnonzero(where).astype(np.int32))
    np.testing.assert_array_equal(found, np.flatnonzero(grown & ~where))


def test_parts_are_apart_where_no_node_of_one_lies_beside_the_other(nodes: Nodes) -> None:
    where = np.random.default_rng(3).random(len(nodes.z_mm)) < 0.1
    parts = parts_of(nodes=nodes, where=where)
    assert sum(len(part) for part in parts) == where.sum()
    for part in parts:
        assert not where[beside(nodes=nodes, part=part)].any()
