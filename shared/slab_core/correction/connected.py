"""Connected parts of a floor's nodes."""

import numpy as np
from scipy import ndimage

from slab_core.correction.nodes import Nodes
from slab_core.numerics.grid import Ints, Mask

AROUND = np.ones((3, 3), dtype=np.bool_)


def parts_of(*, nodes: Nodes, where: Mask) -> list[Ints]:
    """Connected parts (eight neighbours) of the marked nodes, each as the nodes in it."""
    grid = np.zeros(nodes.inside.shape, dtype=np.bool_)
    grid[nodes.inside] = where
    labels, count = ndimage.label(grid, structure=AROUND)
    of_node = labels[nodes.inside]
    order = np.argsort(of_node, kind="stable")
    bounds = np.searchsorted(of_node[order], np.arange(1, count + 2))
    return [order[bounds[k] : bounds[k + 1]].astype(np.int64) for k in range(count)]
