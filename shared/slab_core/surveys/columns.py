"""Checks of whole columns of numbers, with the row named."""

from collections.abc import Mapping

import numpy as np

from slab_core.errors import Problem
from slab_core.numerics.grid import Floats, Ints, Mask
from slab_core.rooms.rings import FARTHEST_M
from slab_core.rooms.wording import refusal

_MOST_ROWS = 20
"""Rows named one by one; beyond them the rest is counted."""


def equal_lengths(*, columns: Mapping[str, Floats | Ints], pointer: str) -> tuple[Problem, ...]:
    """Refuses a block whose columns are not one-dimensional and of one length."""
    shapes = {name: np.shape(column) for name, column in columns.items()}
    if len(set(shapes.values())) <= 1 and all(len(shape) == 1 for shape in shapes.values()):
        return ()
    counts = ", ".join(f"{name} {shape[0] if shape else 'none'}" for name, shape in shapes.items())
    detail = f"the columns differ in length: {counts}; give each column one value per reading"
    return (refusal(code="columns-unequal", detail=detail, pointer=pointer),)


def finite(*, columns: Mapping[str, Floats], pointer: str) -> tuple[Problem, ...]:
    """Refuses every value that is NaN or infinite."""
    return tuple(
        problem
        for name, column in columns.items()
        for problem in rows(
            bad=~np.isfinite(column),
            column=column,
            code="not-finite",
            right="leave out what was not measured",
            pointer=f"{pointer}/{name}",
        )
    )


def far_out(*, columns: Mapping[str, Floats], pointer: str) -> tuple[Problem, ...]:
    """Refuses every coordinate farther from the origin than any place of a job may be."""
    return tuple(
        problem
        for name, column in columns.items()
        for problem in rows(
            bad=np.abs(column) > FARTHEST_M,
            column=column,
            code="too-far-out",
            right=f"places lie within {FARTHEST_M:g} m of the origin: put it near the job, or check the unit",
            pointer=f"{pointer}/{name}",
        )
    )


def rows(
    *, bad: Mask, column: Floats | Ints, code: str, right: str, pointer: str, name: str = ""
) -> tuple[Problem, ...]:
    """One refusal for each row of `bad`, up to 20; the last says how many more there are.

    `name` is what a person calls the column, if not by the last part of `pointer`.
    """
    if not bad.any():
        return ()
    where = np.flatnonzero(bad)
    name = name or pointer.rsplit("/", 1)[-1]
    problems = []
    for count, row in enumerate(where[:_MOST_ROWS].tolist(), start=1):
        more = len(where) - count if count == _MOST_ROWS else 0
        tail = f" (and {more} more rows of this column)" if more else ""
        detail = f"{name} of row {row + 1} is {column[row]:g}; {right}{tail}"
        problems.append(refusal(code=code, detail=detail, pointer=f"{pointer}/{row}"))
    return tuple(problems)
