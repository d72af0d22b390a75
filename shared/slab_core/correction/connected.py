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


def beside(*, nodes: Nodes, part: Ints) -> Ints:
    """The nodes next to a part (eight neighbours) that are not of it, in their order."""
    nx, ny = nodes.grid.nx, nodes.grid.ny
    row, column = np.divmod(nodes.index[part], nx)
    down, right = np.indices((3, 3)).reshape(2, -1) - 1
    rows, columns = (row[:, None] + down).ravel(), (column[:, None] + right).ravel()
    on_grid = (rows >= 0) & (rows < ny) & (columns >= 0) & (columns < nx)
    places = np.unique(rows[on_grid] * nx + columns[on_grid])
    at = np.searchsorted(nodes.index, places)
    inside = nodes.index[np.minimum(at, len(nodes.index) - 1)] == places
    return np.asarray(np.setdiff1d(at[inside], part))
