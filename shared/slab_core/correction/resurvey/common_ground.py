"""Where two surveys of one floor read the same slab: ground on which nothing was done between them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial import cKDTree

from slab_core.correction.resurvey.readings import nearest_nodes, on_nodes, owners, rows_of, union
from slab_core.correction.resurvey.standing import Followed, known_work
from slab_core.correction.resurvey.works import Work, labels, works_of
from slab_core.numerics.grid import Floats, Grid, Ints, Mask
from slab_core.surface.fit import tells_a_surface
from slab_core.surveys.model import Observations, Survey

NEAR_M = 1.2
"""Farther from each other than readings usually lie (2-4 ft), two surveys tell little of one another."""

LEAST, ENOUGH, MOST = 3, 8, 150
"""Heights of either survey: fewer compare nothing; so many off planned work do without the rest; of more
an even share does."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Common:
    """Heights of the surveys number `survey` (the rows `later`) and `other` where both read the same slab;
    `other` is -1, and there are none, where no survey before it did. They have these `names`.

    `tied` says that both, or that one and any other, sight benchmarks from setups, and `after_work` that the
    survey knows of some. Rows of one `part` lie where the same work
    is planned.
    """

    survey: int
    other: int
    names: tuple[str, str]
    tied: bool
    after_work: bool
    seen: Observations
    later: Mask
    part: Ints


NO_COMMON: tuple[Common, ...] = ()


def common_ground(
    *, floor_id: str, observations: Observations, surveys: tuple[Survey, ...], followed: Followed
) -> tuple[Common, ...]:
    """Every survey with heights on the floor but the first, with the one before it that shares most with it.

    A survey comes before those that know of more work. Scans are tied by their own heights.
    """
    plans = followed.of_floor(floor_id)
    if not plans:
        return ()
    known, owner = known_work(surveys=surveys, followed=followed), owners(observations)
    owner = np.where(_are_heights(observations), owner, -1)
    order = sorted(set(owner[owner >= 0].tolist()), key=lambda i: (len(known[i]), i))
    works = tuple(work for earlier in plans for work in works_of(earlier))
    grid = plans[-1].plan.grid
    parts = labels(works, grid=grid)
    ground = _Ground(grid=grid, seen=observations, owner=owner)
    found = []
    for k, i in enumerate(order[1:], start=1):
        pairs = []
        for j in order[:k]:
            between = tuple(work for work in works if work.id in known[i] ^ known[j])
            rows = ground.shared(i, j, between=between, planned=works)
            pairs.append((int((owner[rows] == i).sum()), -j, rows))
        most, other, rows = max(pairs, key=lambda pair: pair[:2])
        seen = rows_of(observations, rows)
        column, row, _ = nearest_nodes(seen.x_m[:, 0], seen.y_m[:, 0], grid=grid)
        found.append(
            Common(
                survey=i,
                other=-other if most else -1,
                names=(surveys[i].id, surveys[-other].id),
                tied=bool(surveys[i].setups) and any(surveys[j].setups for j in order[:k]),
                after_work=bool(known[i]),
                seen=seen,
                later=owner[rows] == i,
                part=parts[row, column],
            )
        )
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Ground:
    """The heights of a floor, each with the number of its survey (-1: of none), on the plans' grid."""

    grid: Grid
    seen: Observations
    owner: NDArray[np.int64]

    def shared(self, i: int, j: int, *, between: tuple[Work, ...], planned: tuple[Work, ...]) -> Mask:
        """Heights of both off all planned work where those are enough; else off grinding, which may have
        begun anywhere; else wherever no work is called done between them; none where either has too few."""
        grinding = tuple(work for work in planned if work.kind == "grind")
        for off, least in ((planned, ENOUGH), ((*grinding, *between), ENOUGH), (between, LEAST)):
            rows = self._rows(i, j, off=off)
            if self._tell(rows, i, least=least):
                return rows
        return np.zeros_like(rows)

    def _tell(self, rows: Mask, i: int, *, least: int) -> bool:
        count = int((self.owner[rows] == i).sum())
        return least <= count <= int(rows.sum()) - least and tells_a_surface(rows_of(self.seen, rows))

    def _rows(self, i: int, j: int, *, off: tuple[Work, ...]) -> Mask:
        """Heights of both on ground off this work that lie near one of the other's there."""
        worked = ndimage.binary_dilation(union(off, self.grid), structure=np.ones((3, 3), dtype=bool))
        at = np.column_stack([self.seen.x_m[:, 0], self.seen.y_m[:, 0]])
        free = ~on_nodes(at[:, 0], at[:, 1], grid=self.grid, where=worked)
        rows = np.zeros(len(self.owner), dtype=np.bool_)
        mine, theirs = (np.flatnonzero(free & (self.owner == one)) for one in (i, j))
        if len(mine) and len(theirs):
            for own, others in ((mine, theirs), (theirs, mine)):
                rows[_even(own[_near(at[own], at[others])])] = True
        return rows


def _are_heights(seen: Observations) -> Mask:
    single = (seen.weight[:, 1:] == 0.0).all(axis=1) & (seen.weight[:, 0] == 1.0)
    scanned = np.array(["/scans/" in pointer for pointer in seen.pointer], dtype=np.bool_)
    return np.asarray(single & ~scanned)


def _near(at: Floats, others: Floats) -> Mask:
    distance, _ = cKDTree(others).query(at)
    return np.asarray(distance <= NEAR_M)


def _even(rows: NDArray[np.int64]) -> NDArray[np.int64]:
    if len(rows) <= MOST:
        return rows
    return rows[np.linspace(0, len(rows) - 1, MOST).round().astype(np.int64)]
