"""What of an earlier plan is reached by now, what is left, and where work is off its height."""

from collections.abc import Iterable

import numpy as np

from slab_core.correction.model import Pin, Plan
from slab_core.correction.placing_error import GROUND_SD_M, SCREEDED_SD_M, TROWELLED_SD_M
from slab_core.correction.progress_model import OffPlan, Progress, WorkKind, WorkProgress, WorkSum
from slab_core.correction.resurvey.readings import on_nodes
from slab_core.correction.resurvey.standing import EarlierPlan, work_ids
from slab_core.correction.resurvey.works import Work, node_at
from slab_core.correction.setting_out import walls_of
from slab_core.correction.task import Task
from slab_core.errors import Problem
from slab_core.numerics.grid import ERROR_STEP_M, HEIGHT_STEP_M, STEP_MM, Floats, Ints, Mask
from slab_core.rooms.distances import said_place
from slab_core.rooms.model import Floor, Point
from slab_core.surface.model import Surface
from slab_core.units.display import in_both

PLACING_SD_M: dict[WorkKind, float] = {
    "grind": GROUND_SD_M,
    "pour": SCREEDED_SD_M,
    "patch": TROWELLED_SD_M,
    "skim": TROWELLED_SD_M,
}
BEYOND_SD = 2.0
"""Work that is farther off than so many standard deviations of its placing and of the reading is told."""

_M3 = STEP_MM * 1e-3


def progress_of(
    *,
    task: Task,
    earlier: tuple[EarlierPlan, ...],
    works: tuple[Work, ...],
    done: frozenset[str],
    left: Plan,
    heights_kept: bool,
) -> Progress:
    """`works` are those of the last of the `earlier` plans; `done` the ids of what is done of any."""
    areas = np.zeros(task.surface.height.shape)
    areas[task.surface.inside] = task.case.nodes.area_m2
    ground, filled = _done_depths(works, done=done, like=task.surface.height)
    told = tuple(
        _work_progress(
            work,
            task=task,
            last=earlier[-1],
            ground=ground,
            filled=filled,
            areas=areas,
            is_done=work.id in done,
            left=left,
        )
        for work in works
    )
    return Progress(
        alternate=left.alternate,
        round=len(earlier) + 1,
        heights_kept=heights_kept,
        works=told,
        done=_done_sum(earlier, done=done),
        left=_sum((left,), chosen=None),
    )


def progress_findings(*, floor: Floor, progress: Progress) -> tuple[Problem, ...]:
    """The place that is most too high and the one that is most too low of ground and of filled work that was
    read, where neither the crew's placing nor the readings explain it; and done work that nobody has read."""
    done = [work for work in progress.works if work.done]
    ground = [work for work in done if work.readings and work.kind == "grind"]
    filled = [work for work in done if work.readings and work.kind != "grind"]
    found = (
        _off("ground-too-little", ground, high=True, floor=floor),
        _off("ground-too-deep", ground, high=False, floor=floor),
        _off("filled-too-high", filled, high=True, floor=floor),
        _off("filled-too-low", filled, high=False, floor=floor),
        _unread([work for work in done if not work.readings], floor=floor),
    )
    return tuple(problem for problem in found if problem is not None)


def _done_depths(works: tuple[Work, ...], *, done: frozenset[str], like: Ints) -> tuple[Ints, Ints]:
    """What is ground off and filled up by now where all is as planned, in storage steps."""
    ground, filled = np.zeros_like(like), np.zeros_like(like)
    for work in works:
        if work.id in done:
            depth = ground if work.kind == "grind" else filled
            depth += work.depth
    return ground, filled


def _work_progress(
    work: Work,
    *,
    task: Task,
    last: EarlierPlan,
    ground: Ints,
    filled: Ints,
    areas: Floats,
    is_done: bool,
    left: Plan,
) -> WorkProgress:
    surface, where = task.surface, work.where
    came = surface.height - last.began
    if work.kind == "grind":
        share = np.where(filled > 0, work.depth, np.minimum(-came, work.depth))
        uncovered = where & (filled == 0)
    else:
        share = np.minimum(came + ground - work.under, work.depth)
        uncovered = where & (filled <= work.under + work.depth)
        share = np.maximum(share, 0) if work.under.any() else share
    off = surface.height - (last.began - ground + filled)
    in_all = float((areas * work.depth).sum()) * _M3
    reached = float((areas * np.where(where, share, 0)).sum()) * _M3
    seen = is_done and bool(uncovered.any())
    return WorkProgress(
        id=work.id,
        kind=work.kind,
        phase=work.phase,
        done=is_done,
        readings=_readings_on(surface, where=where),
        area_m2=float(areas[where].sum()),
        planned_m3=in_all,
        reached_m3=max(0.0, reached),
        left_grind_m3=float((areas * left.grind)[where].sum()) * _M3,
        left_fill_m3=float((areas * left.fill)[where].sum()) * _M3,
        highest=_extreme(off, where=uncovered, sign=1, task=task) if seen else None,
        lowest=_extreme(off, where=uncovered, sign=-1, task=task) if seen else None,
        pins=_pins(work, last=last, task=task) if seen and work.kind == "pour" else (),
    )


def _readings_on(surface: Surface, *, where: Mask) -> int:
    """How many of the readings that the surface was fitted to lie on the marked nodes."""
    spline = surface.spline
    on = on_nodes(spline.obs_x_m, spline.obs_y_m, grid=surface.grid, where=where)
    return int((on & (spline.obs_weight != 0.0)).any(axis=1).sum())


def _extreme(off: Ints, *, where: Mask, sign: int, task: Task) -> OffPlan:
    at = np.unravel_index(int(np.argmax(np.where(where, sign * off, np.iinfo(np.int32).min))), off.shape)
    j, i = int(at[0]), int(at[1])
    grid = task.surface.grid
    point = (float(grid.xs()[i]), float(grid.ys()[j]))
    planned = float(task.surface.height[j, i] - off[j, i]) * HEIGHT_STEP_M
    return _off_plan(task=task, at=point, planned_m=planned)


def _pins(work: Work, *, last: EarlierPlan, task: Task) -> tuple[OffPlan, ...]:
    pins: Iterable[Pin] = next(pour.pins for pour in last.plan.pours if pour.id == work.id)
    return tuple(_off_plan(task=task, at=pin.at, planned_m=pin.height_m) for pin in pins)


def _off_plan(*, task: Task, at: Point, planned_m: float) -> OffPlan:
    surface = task.surface
    j, i = node_at(surface.grid, at)
    now_m = float(surface.height[j, i]) * HEIGHT_STEP_M
    return OffPlan(
        at=at,
        planned_m=round(planned_m, 6),
        now_m=round(now_m, 6),
        off_m=round(now_m - planned_m, 6),
        sd_m=float(surface.error[j, i]) * ERROR_STEP_M,
        walls=walls_of(floor=task.floor, at=at),
    )


def _done_sum(earlier: tuple[EarlierPlan, ...], *, done: frozenset[str]) -> WorkSum:
    """Each done work once, as the last plan that has it planned it."""
    plans, chosen, rest = [], [], set(done)
    for one in reversed(earlier):
        own = frozenset(id for id in work_ids(one.plan) if id in rest)
        rest -= own
        plans.append(one.plan)
        chosen.append(own)
    return _sum(tuple(plans), chosen=tuple(chosen))


def _sum(plans: tuple[Plan, ...], *, chosen: tuple[frozenset[str], ...] | None) -> WorkSum:
    wanted = chosen or (None,) * len(plans)
    pairs = list(zip(plans, wanted, strict=True))
    grinds = [a for plan, ids in pairs for a in plan.grind_areas if ids is None or a.id in ids]
    pours = [p for plan, ids in pairs for p in plan.pours if ids is None or p.id in ids]
    patches = [p for plan, ids in pairs for p in plan.patches if ids is None or p.id in ids]
    patch_bags = sum(patch.bags_opened for patch in patches)
    return WorkSum(
        grind_m3=sum(area.volume_m3 for area in grinds),
        fill_m3=sum(pour.volume_m3 for pour in pours) + sum(patch.volume_m3 for patch in patches),
        bags=sum(pour.bags for pour in pours) + patch_bags,
        patch_bags=patch_bags,
        grinder_hours=sum(area.machine_hours for area in grinds),
        hand_grinder_hours=sum(area.hand_hours for area in grinds),
    )


def _off(code: str, works: list[WorkProgress], *, high: bool, floor: Floor) -> Problem | None:
    places = [(work, work.highest if high else work.lowest) for work in works]
    far = [(work, at) for work, at in places if at is not None and _is_far(work, at, high=high)]
    if not far:
        return None
    work, worst = max(far, key=lambda pair: abs(pair[1].off_m))
    said, many = code.replace("-", " "), f" (and {len(far) - 1} more)" if len(far) > 1 else ""
    detail = (
        f"floor {floor.id}: {work.id}{many} is {said}: {said_place(floor=floor, at=worst.at)} it stands "
        f"{in_both(abs(worst.off_m))} {'above' if high else 'below'} its planned height, known to "
        f"±{in_both(2 * worst.sd_m)} (95 %)"
    )
    return Problem(code=code, detail=detail)


def _is_far(work: WorkProgress, at: OffPlan, *, high: bool) -> bool:
    off = at.off_m if high else -at.off_m
    return off > BEYOND_SD * float(np.hypot(PLACING_SD_M[work.kind], at.sd_m))


def _unread(works: list[WorkProgress], *, floor: Floor) -> Problem | None:
    if not works:
        return None
    names = ", ".join(work.id for work in works[:6]) + (f" and {len(works) - 6} more" if works[6:] else "")
    detail = (
        f"floor {floor.id}: nobody has read {names} since the work there was done; it is taken to be done "
        "as planned on what the readings around tell of the slab: read there too before you go on"
    )
    return Problem(code="done-work-unread", detail=detail)
