"""What every reader of points gives."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from slab_core.numerics.grid import Floats
from slab_files.importers.refusals import not_a_number

Kind = Literal["las", "laz", "e57", "ply", "text"]

CHUNK_BYTES = 16_000_000
"""About how much of a file is in memory at a time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PointFile:
    """An opened file of points.

    `claimed` is the number of points that its header states, which nothing is allocated by; `unit_m` the
    length of its unit where the file says it. `chunks` reads from the start: float64, shape (n, 3), in the
    file's unit. All readers raise InputRefused.
    """

    kind: Kind
    claimed: int | None
    unit_m: float | None
    chunks: Callable[[], Iterator[Floats]]


def check_finite(points: Floats, *, before: int) -> Floats:
    """The points, all of them numbers; `before` counts those of earlier chunks. Raises InputRefused."""
    if not np.isfinite(points.sum()):
        bad = ~np.isfinite(points).all(axis=1)
        if bad.any():
            raise not_a_number(row=before + int(np.argmax(bad)) + 1)
    return points
