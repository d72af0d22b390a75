"""Which readings still tell the slab where work was done since they were taken."""

from collections import Counter
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from slab_core.correction.resurvey.standing import Followed, done_work, known_work
from slab_core.correction.resurvey.worked import change_of, less_sure_at_borders
from slab_core.correction.resurvey.works import Work, works_of
from slab_core.errors import InputRefused, Problem
from slab_core.numerics.grid import Floats, Grid, Mask
from slab_core.surface.model import Change
from slab_core.surveys.model import Observations, ProfileLine, Survey

MOST_NAMED = 6

Ints64 = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Kept:
    """What still tells a floor's slab, what a person must know about the rest, and the change by work that is
    done, as planned."""

    observations: Observations
    problems: tuple[Problem, ...]
    change: Change | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Changed:
    """Of one survey: nodes where work was done that it does not know, and that work; where it measures again
    is `shown`, the work that it was taken after."""

    grid: Grid
    since: Mask
    works: tuple[Work, ...]
    shown: Mask | None


def kept_readings(
    *, floor_id: str, observations: Observations, surveys: tuple[Survey, ...], followed: Followed
) -> Kept:
    """A floor's readings without those that lie where work was done after they were taken.

    A reading that weighs several places goes if any of them has changed. So each that stays was taken after
    all work that is done where it lies.

    Raises
    ------
    InputRefused
        `worked-area-unread` for a survey that is said to be taken after work and has no reading on any of it.
    """
    changed = _changes(floor_id=floor_id, surveys=surveys, followed=followed)
    if not changed:
        return Kept(observations=observations, problems=())
    owner = owners(observations)
    _refuse_unread(observations, owner=owner, surveys=surveys, changed=changed, floor_id=floor_id)
    gone = np.zeros(len(owner), dtype=np.bool_)
    for i, one in changed.items():
        gone[owner == i] = _touched(observations, rows=owner == i, grid=one.grid, where=one.since)
    plans, done = followed.of_floor(floor_id), done_work(surveys=surveys, followed=followed)
    change = change_of(plans=plans, done=done)
    return Kept(
        observations=less_sure_at_borders(rows_of(observations, ~gone), change=change, began=plans[0].began),
        change=change,
        problems=_told(
            floor_id=floor_id, surveys=surveys, gone=Counter(owner[gone].tolist()), changed=changed
        ),
    )


def readings_of_the_day(
    *,
    floor_id: str,
    survey: int,
    observations: Observations,
    surveys: tuple[Survey, ...],
    followed: Followed,
) -> Observations:
    """A floor's readings without those that lie where work was done between their survey and the one of this
    number: what is left tells the slab as it was then, so that a scan of then may be moved to it."""
    plans, known = followed.of_floor(floor_id), known_work(surveys=surveys, followed=followed)
    owner = owners(observations)
    gone = np.zeros(len(owner), dtype=np.bool_)
    works = tuple(work for earlier in plans for work in works_of(earlier))
    for i, done in enumerate(known):
        between = tuple(work for work in works if work.id in done ^ known[survey])
        if between:
            grid = plans[-1].plan.grid
            rows = owner == i
            gone[rows] = _touched(observations, rows=rows, grid=grid, where=union(between, grid))
    return rows_of(observations, ~gone)


def lines_gone(*, floor_id: str, surveys: tuple[Survey, ...], followed: Followed) -> frozenset[str]:
    """Where measured lines were posted that cross work which was done later: a line goes whole."""
    changed = _changes(floor_id=floor_id, surveys=surveys, followed=followed)
    return frozenset(
        f"/surveys/{i}/lines/{k}/value"
        for i, one in changed.items()
        for k, line in enumerate(surveys[i].lines)
        if _crosses(line, one)
    )


def _changes(*, floor_id: str, surveys: tuple[Survey, ...], followed: Followed) -> dict[int, _Changed]:
    """By the survey's number, for those that lack some work done on this floor or were taken after it."""
    plans, known = followed.of_floor(floor_id), known_work(surveys=surveys, followed=followed)
    done = frozenset().union(*known)
    works = tuple(work for earlier in plans for work in works_of(earlier) if work.id in done)
    if not works:
        return {}
    grid, found = plans[-1].plan.grid, {}
    for i, before in enumerate(known):
        own = tuple(work for work in works if work.id in before)
        since = tuple(work for work in works if work.id not in before)
        shown = union(own, grid) if own else None
        if since or own:
            found[i] = _Changed(grid=grid, since=union(since, grid), works=since, shown=shown)
    return found


def owners(seen: Observations) -> Ints64:
    """The number of each observation's survey."""
    return np.array([int(pointer.split("/")[2]) for pointer in seen.pointer], dtype=np.int64)


def union(works: tuple[Work, ...], grid: Grid) -> Mask:
    """Where any of the works lies."""
    where = np.zeros((grid.ny, grid.nx), dtype=np.bool_)
    for work in works:
        where |= work.where
    return where


def nearest_nodes(x_m: Floats, y_m: Floats, *, grid: Grid) -> tuple[Ints64, Ints64, Mask]:
    """Column and row of the nearest node, and whether the place is not beyond the grid."""
    i = np.rint((x_m - grid.x0_m) / grid.step_m).astype(np.int64)
    j = np.rint((y_m - grid.y0_m) / grid.step_m).astype(np.int64)
    inside = (i >= 0) & (i < grid.nx) & (j >= 0) & (j < grid.ny)
    return np.clip(i, 0, grid.nx - 1), np.clip(j, 0, grid.ny - 1), inside


def on_nodes(x_m: Floats, y_m: Floats, *, grid: Grid, where: Mask) -> Mask:
    """Whether the nearest node is marked; beyond the grid nothing is."""
    i, j, inside = nearest_nodes(x_m, y_m, grid=grid)
    return inside & where[j, i]


def _touched(seen: Observations, *, rows: Mask, grid: Grid, where: Mask) -> Mask:
    """For the chosen rows, whether any place that they weigh is marked."""
    on = on_nodes(seen.x_m[rows], seen.y_m[rows], grid=grid, where=where)
    return np.asarray((on & (seen.weight[rows] != 0.0)).any(axis=1), dtype=np.bool_)


def _crosses(line: ProfileLine, changed: _Changed) -> bool:
    start, end = np.array(line.start), np.array(line.end)
    count = max(2, int(np.hypot(*(end - start)) / changed.grid.step_m) + 2)
    at = start + np.linspace(0.0, 1.0, count)[:, None] * (end - start)
    return bool(on_nodes(at[:, 0], at[:, 1], grid=changed.grid, where=changed.since).any())


def rows_of(seen: Observations, rows: Mask) -> Observations:
    """The marked observations."""
    return replace(
        seen,
        x_m=seen.x_m[rows],
        y_m=seen.y_m[rows],
        weight=seen.weight[rows],
        value_m=seen.value_m[rows],
        sd_m=seen.sd_m[rows],
        position_sd_m=seen.position_sd_m[rows],
        pointer=tuple(pointer for pointer, chosen in zip(seen.pointer, rows, strict=True) if chosen),
        shared_m=seen.shared_m[rows] if len(seen.shared_m) else seen.shared_m,
    )


def _refuse_unread(
    seen: Observations,
    *,
    owner: Ints64,
    surveys: tuple[Survey, ...],
    changed: dict[int, _Changed],
    floor_id: str,
) -> None:
    problems = tuple(
        Problem(
            code="worked-area-unread",
            detail=f"survey “{surveys[i].id}” is said to be taken after work on floor {floor_id} "
            f"({_some(surveys[i].after)}), but none of its readings lies where that work was; read the "
            "ground and filled places again, or take their names out of after",
            pointer=f"/surveys/{i}/after",
            severity="refusal",
        )
        for i, one in changed.items()
        if one.shown is not None and not _touched(seen, rows=owner == i, grid=one.grid, where=one.shown).any()
    )
    if problems:
        raise InputRefused(problems)


def _told(
    *, floor_id: str, surveys: tuple[Survey, ...], gone: Counter[int], changed: dict[int, _Changed]
) -> tuple[Problem, ...]:
    return tuple(
        Problem(
            code="readings-superseded",
            detail=f"floor {floor_id}: {count} reading(s) of survey “{surveys[i].id}” lie where work was "
            f"done after it was taken ({_some(tuple(work.id for work in changed[i].works))}) and no longer "
            "tell the slab there: they were left out; its readings elsewhere count on",
            pointer=f"/surveys/{i}",
        )
        for i, count in sorted(gone.items())
    )


def _some(names: tuple[str, ...]) -> str:
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return ", ".join(names[:MOST_NAMED]) + more
