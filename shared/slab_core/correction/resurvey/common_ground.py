"""Where two surveys of one floor read the same slab: ground on which nothing was done between them."""

from collections.abc import Mapping
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

    `tied` says that both, or that one and any other, sight benchmarks from setups, `after_work` that either
    knows of some on this floor, and `planned` that work on it is planned. Rows of one `part` lie where the
    same work is planned or, of surveys that know of none, in one quarter of the ground.
    """

    survey: int
    other: int
    names: tuple[str, str]
    tied: bool
    after_work: bool
    planned: bool
    seen: Observations
    later: Mask
    part: Ints


NO_COMMON: tuple[Common, ...] = ()


def common_ground(
    *,
    floor_id: str,
    observations: Observations,
    surveys: tuple[Survey, ...],
    followed: Followed | None = None,
) -> tuple[Common, ...]:
    """Every survey with heights on the floor but the first, with the one before it that shares most with it.

    A survey comes before those that know of more work, and of those that know of as much the one comes next
    that shares most with any before. Where neither of two knows of work all ground is common, as it was when
    the first plan was made. Scans are tied by their own heights.
    """
    plans = followed.of_floor(floor_id) if followed is not None else ()
    works = tuple(work for earlier in plans for work in works_of(earlier))
    owner = np.where(_are_heights(observations), owners(observations), -1)
    left = sorted(set(owner[owner >= 0].tolist()))
    if len(left) < 2:
        return NO_COMMON
    own = frozenset(work.id for work in works)
    every = known_work(surveys=surveys, followed=followed) if followed is not None else ()
    known = {i: every[i] & own if every else own for i in left}
    grid = plans[-1].plan.grid if plans else None
    ground = _Ground(grid=grid, works=works, known=known, seen=observations, owner=owner)
    before = [min(left, key=lambda i: (len(known[i]), i))]
    best = {i: ground.pair(i, before[0]) for i in left if i != before[0]}
    found = []
    while best:
        fewest = min(len(known[i]) for i in best)
        # Of equals the first.
        most = max((best[i] for i in best if len(known[i]) == fewest), key=lambda pair: pair.count)
        found.append(_common(best.pop(most.survey), ground=ground, surveys=surveys, before=before))
        before.append(most.survey)
        best = {
            i: max(one, ground.pair(i, most.survey), key=lambda pair: pair.count) for i, one in best.items()
        }
    return tuple(found)


def _common(pair: "_Pair", *, ground: "_Ground", surveys: tuple[Survey, ...], before: list[int]) -> Common:
    seen, later = rows_of(ground.seen, pair.rows), ground.owner[pair.rows] == pair.survey
    after_work = bool(ground.known[pair.survey] | ground.known[pair.other])
    return Common(
        survey=pair.survey,
        other=pair.other if pair.count else -1,
        names=(surveys[pair.survey].id, surveys[pair.other].id),
        tied=bool(surveys[pair.survey].setups) and any(surveys[j].setups for j in before),
        after_work=after_work,
        planned=bool(ground.works),
        seen=seen,
        later=later,
        part=ground.parts(seen) if after_work else _quarters(seen, later=later),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Pair:
    """The heights (`rows`) that two surveys share, `count` of them of the first."""

    survey: int
    other: int
    count: int
    rows: Mask


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Ground:
    """The heights of a floor, each with the number of its survey (-1: of none), and all `works` that are
    planned there, if any, on the plans' grid; what each survey `known`s of is done."""

    grid: Grid | None
    works: tuple[Work, ...]
    known: Mapping[int, frozenset[str]]
    seen: Observations
    owner: NDArray[np.int64]

    def pair(self, i: int, j: int) -> _Pair:
        """What a survey shares with one before it."""
        rows = self._shared(i, j)
        return _Pair(survey=i, other=j, count=int((self.owner[rows] == i).sum()), rows=rows)

    def parts(self, seen: Observations) -> Ints:
        """Numbers of the places where the same work is planned."""
        if self.grid is None:
            return np.zeros(len(seen.value_m), dtype=np.int32)
        column, row, _ = nearest_nodes(seen.x_m[:, 0], seen.y_m[:, 0], grid=self.grid)
        return labels(self.works, grid=self.grid)[row, column]

    def _shared(self, i: int, j: int) -> Mask:
        """Heights of both off all planned work where those are enough; else off grinding, which may have
        begun anywhere; else wherever no work is called done between them; none where either has too few."""
        between = tuple(work for work in self.works if work.id in self.known[i] ^ self.known[j])
        grinding = tuple(work for work in self.works if work.kind == "grind")
        ways: tuple[tuple[tuple[Work, ...], int], ...] = ((between, LEAST),)
        if self.known[i] | self.known[j]:
            ways = ((self.works, ENOUGH), ((*grinding, *between), ENOUGH), *ways)
        for off, least in ways:
            rows = self._rows(i, j, off=off)
            if self._tell(rows, i, least=least):
                return rows
        return np.zeros(len(self.owner), dtype=np.bool_)

    def _tell(self, rows: Mask, i: int, *, least: int) -> bool:
        count = int((self.owner[rows] == i).sum())
        return least <= count <= int(rows.sum()) - least and tells_a_surface(rows_of(self.seen, rows))

    def _rows(self, i: int, j: int, *, off: tuple[Work, ...]) -> Mask:
        """Heights of both on ground off this work that lie near one of the other's there."""
        at = np.column_stack([self.seen.x_m[:, 0], self.seen.y_m[:, 0]])
        free = np.ones(len(at), dtype=np.bool_)
        if self.grid is not None and off:
            worked = ndimage.binary_dilation(union(off, self.grid), structure=np.ones((3, 3), dtype=bool))
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


def _quarters(seen: Observations, *, later: Mask) -> Ints:
    """Which quarter of the ground each height is in, halved both ways by the later survey's heights."""
    x, y = seen.x_m[:, 0], seen.y_m[:, 0]
    if not later.any():
        return np.zeros(len(x), dtype=np.int32)
    return np.asarray((x > np.median(x[later])) + 2 * (y > np.median(y[later])), dtype=np.int32)


def _near(at: Floats, others: Floats) -> Mask:
    distance, _ = cKDTree(others).query(at)
    return np.asarray(distance <= NEAR_M)


def _even(rows: NDArray[np.int64]) -> NDArray[np.int64]:
    if len(rows) <= MOST:
        return rows
    return rows[np.linspace(0, len(rows) - 1, MOST).round().astype(np.int64)]
