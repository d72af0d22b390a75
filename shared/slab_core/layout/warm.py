"""Compiling the layout's kernels before work arrives."""

import numpy as np

from slab_core.layout.sequence import best_sequence


def warm() -> None:
    """Compile `best_sequence` and what it calls, or load them from the cache."""
    none = np.empty(0)
    boards = (np.array([0.6, 1.0]), np.array([9.0, 9.0]), none, none)
    chances = np.full((2, 8), 0.25)
    best_sequence(
        2.3, boards, (0.2, 0.003, 0.0005, 0.02, 0.01), (none, none, 0.2, 0.05), (0.5, none, none), chances
    )
