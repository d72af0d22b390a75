"""Cells of nearly equal height that touch make patches: the floor is one, each thing on it another."""

import numpy as np

from slab_core.numerics.grid import Floats, Ints
from slab_core.numerics.kernel import kernel


def patches(*, height_m: Floats, apart_m: Floats) -> tuple[Ints, int]:
    """Number of each cell's patch, shape (ny, nx), -1 where there is no height, and how many there are.

    Two cells that share a side are of one patch when their heights differ by no more than the larger of
    their two `apart_m`.
    """
    label = np.full(height_m.shape, -1, dtype=np.int32)
    stack = np.empty(height_m.size, dtype=np.int32)
    return label, _label(height_m, apart_m, label, stack)


@kernel
def _label(height: Floats, apart: Floats, label: Ints, stack: Ints) -> int:
    ny, nx = height.shape
    patch = 0
    for start in range(ny * nx):
        if np.isnan(height[start // nx, start % nx]) or label[start // nx, start % nx] >= 0:
            continue
        label[start // nx, start % nx] = patch
        stack[0] = start
        held = 1
        while held:
            held -= 1
            j, i = stack[held] // nx, stack[held] % nx
            for side in range(4):
                b = j + (side == 0) - (side == 1)
                a = i + (side == 2) - (side == 3)
                if b < 0 or a < 0 or b >= ny or a >= nx or label[b, a] >= 0:
                    continue
                # A height that is not a number is near no other.
                if abs(height[b, a] - height[j, i]) <= max(apart[b, a], apart[j, i]):
                    label[b, a] = patch
                    stack[held] = b * nx + a
                    held += 1
        patch += 1
    return patch
