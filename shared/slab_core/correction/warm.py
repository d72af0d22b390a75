"""Compile every kernel of the correction stage once, so that child processes find them ready."""

import numpy as np

from slab_core.correction.kernels import add_up, classify, extremes, relaxed_cost


def warm() -> None:
    """Two nodes, one to fill and one to grind, with the types that a plan uses. The solver is not touched."""
    one, two = np.ones(2), np.array([-2.0, 2.0])
    abc, steps = np.zeros(3), np.array([3.0, 6.0])
    place = np.arange(2, dtype=np.int32)
    kind = np.zeros(2, dtype=np.int8)
    relaxed_cost(one, one, two, abc, kind, one, one, one, 0.4, 0.0, np.ones((1, 2)), steps, one)
    extremes(one, one, two, abc)
    state = classify(two, place, place, np.zeros(2, dtype=np.bool_), 2, 0.4)
    add_up(two, state, one, one, one, place, 0.0, 25.0, 2, 1, steps, one)
