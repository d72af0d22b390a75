"""The plan for what is left of an earlier one, on the slab as it was measured again.

The heights of the earlier plan stand: its pins may be set and its bays poured. What of it is not done stays
as it was planned, to the same heights; where work was done, and where nothing was planned, only what breaks a
rule is ground or trowelled once more. Whoever lets the heights go, with nothing poured yet, gets a new plan
where that costs less; where they cannot be kept within the rules and limits everybody does.
"""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from slab_core.correction.connected import parts_of
from slab_core.correction.evaluate import recheck, recheck_ramps, to_mm, untouched_plan
from slab_core.correction.model import Plan, Solve
from slab_core.correction.placing.placed import Placed, meets_doors, place
from slab_core.correction.placing.placed_plan import plan_of_placed
from slab_core.correction.placing.trowel import Trowelled, trowelled
from slab_core.correction.ramps.ramped import as_planned
from slab_core.correction.resurvey.bays import bays_of_left, pours_of_left
from slab_core.correction.resurvey.hours import on_compound
from slab_core.correction.resurvey.left import Left, compound_by_now, left_to_do
from slab_core.correction.resurvey.let_go import holds, refused_beyond_limits, why_let_go, with_limits
from slab_core.correction.resurvey.names import fresh_names, kept_names
from slab_core.correction.resurvey.probability import probability_gone
from slab_core.correction.resurvey.progress import progress_findings, progress_of
from slab_core.correction.resurvey.standing import EarlierPlan, Standing
from slab_core.correction.resurvey.works import Work, works_of
from slab_core.correction.task import Task
from slab_core.correction.thresholds import slab_is_in_range
from slab_core.correction.work import SKIN_MM
from slab_core.errors import refuse
from slab_core.numerics.grid import Ints, Mask
from slab_core.tolerance.model import RuleReport, ToleranceReport

LEFT_ALONE_MM = (np.inf, 3.2, 2.4, 1.6, 1.2, 0.8, SKIN_MM, SKIN_MM / 2, SKIN_MM / 4, 0.0)
"""So far off its height a place may stay if the rules then pass: the most that they allow is taken."""

NAME = "what is left"


def plan_of_left(
    *,
    task: Task,
    report: ToleranceReport,
    standing: Standing,
    alternate: str,
    fresh: Callable[[], Plan],
) -> Plan:
    """The plan for what is left of the floor's last earlier plan, with how far that has come.

    `fresh` makes a plan from nothing but the slab as it is; it counts where the heights need not be kept and
    nothing is poured, and where they cannot be kept. Doorways stay as that plan left them, with their ramps;
    what they cost is not in the plan of what is left. Nothing is claimed of the bound (0) of a plan that
    keeps heights.

    Raises
    ------
    InputRefused
        `floor-other-than-planned` when the floor's grid is not the earlier plan's.
    """
    earlier, done = standing.plans, frozenset(standing.done)
    _refuse_other_floor(task=task, last=earlier[-1])
    works, last = works_of(earlier[-1]), earlier[-1].plan
    planned = as_planned(task=task, works=last.doorways)
    kept, heights_kept = _chosen(
        task=planned,
        report=_off_ramps(report, task=planned),
        earlier=earlier,
        works=works,
        done=done,
        keep_heights=standing.keep_heights,
        alternate=alternate,
        fresh=fresh,
    )
    if heights_kept:
        kept = replace(kept, doorways=last.doorways)
    progress = progress_of(
        task=task, earlier=earlier, works=works, done=done, left=kept, heights_kept=heights_kept
    )
    findings = progress_findings(floor=task.floor, progress=progress)
    return replace(kept, progress=progress, problems=(*findings, *kept.problems))


def _chosen(
    *,
    task: Task,
    report: ToleranceReport,
    earlier: tuple[EarlierPlan, ...],
    works: tuple[Work, ...],
    done: frozenset[str],
    keep_heights: bool,
    alternate: str,
    fresh: Callable[[], Plan],
) -> tuple[Plan, bool]:
    """The plan, and whether it keeps the heights of the last one."""
    round = len(earlier) + 1
    if _nothing_needed(task=task, report=report):
        nothing = Solve(status="not-needed", objective=0.0, bound=0.0)
        plain = untouched_plan(task=task, alternate=alternate, solve=nothing, after=report.rules, passes=True)
        return plain, True
    if not works:  # nothing was planned, so no height was either
        return fresh_names(fresh(), round=round), False
    kept = _kept_heights(task=task, earlier=earlier, works=works, done=done, alternate=alternate)
    poured = any(work.id in done for work in works if work.kind != "grind")
    if holds(kept) and (keep_heights or poured):
        return kept, True
    other = fresh_names(fresh(), round=round)
    if other.passes and not holds(kept):
        return replace(other, problems=(why_let_go(kept), *other.problems)), False
    if other.passes and other.solve.objective < kept.solve.objective:
        return other, False
    return refused_beyond_limits(kept), True


def _nothing_needed(*, task: Task, report: ToleranceReport) -> bool:
    in_range = all(slab_is_in_range(door=door, surface=task.surface) for door in task.doors)
    ramps = recheck_ramps(task=task, grind=_nowhere(task), fill=_nowhere(task))
    return all(rule.passes for rule in (*report.rules, *ramps)) and in_range and not task.family.level


def _off_ramps(report: ToleranceReport, *, task: Task) -> ToleranceReport:
    """The report without edges that lie on ramps, which have rules of their own."""
    if task.ramped is None:
        return report
    return replace(report, rules=recheck(task=task, grind=_nowhere(task), fill=_nowhere(task)))


def _nowhere(task: Task) -> Ints:
    return np.zeros(len(task.case.nodes.x), dtype=np.int32)


def _kept_heights(
    *,
    task: Task,
    earlier: tuple[EarlierPlan, ...],
    works: tuple[Work, ...],
    done: frozenset[str],
    alternate: str,
) -> Plan:
    """With as much left alone as the rules allow."""
    pending = tuple(work for work in works if work.id not in done)
    best: tuple[Placed, tuple[RuleReport, ...]] | None = None
    for alone_mm in LEFT_ALONE_MM:
        left = left_to_do(task=task, last=earlier[-1], pending=pending, alone_mm=alone_mm)
        if best is not None and left.same_as(grind=best[0].grind, fill=best[0].fill):
            continue
        placed = _placed(task=task, last=earlier[-1], pending=pending, left=left)
        best = placed, recheck(task=task, grind=placed.grind, fill=placed.fill)
        if all(rule.passes for rule in best[1]) and _meets_doorways(placed):
            break
    assert best is not None
    return _as_plan(
        placed=best[0], after=best[1], earlier=earlier, works=works, done=done, alternate=alternate
    )


def _meets_doorways(placed: Placed) -> bool:
    """In every doorway's range, on ramps by their own rules."""
    ramps = recheck_ramps(task=placed.task, grind=placed.grind, fill=placed.fill)
    return meets_doors(placed) and all(report.passes for report in ramps)


def _placed(*, task: Task, last: EarlierPlan, pending: tuple[Work, ...], left: Left) -> Placed:
    """Pours in the bays of the earlier plan, all other fill with the trowel; what no trowel can place is
    poured too."""
    hand, poured, deep = _by_hand(task=task, left=left)
    if deep.any():
        left = left.poured_thick_enough(task=task, where=deep)
    free = bool(last.plan.pours) and all(pour.method == "free" for pour in last.plan.pours)
    return place(
        name=NAME,
        task=task,
        grind=left.grind,
        fill=left.fill,
        poured=poured,
        by_hand=hand,
        bays=bays_of_left(task=task, last=last, pending=pending, poured=poured),
        method="free" if free else "screeded",
    )


def _by_hand(*, task: Task, left: Left) -> tuple[tuple[Trowelled, ...], Mask, Mask]:
    """What is trowelled, what is poured, and what of it only because no trowel can place it."""
    nodes, fill_mm = task.case.nodes, to_mm(left.fill)
    hand: list[Trowelled] = []
    deep = np.zeros(len(fill_mm), dtype=np.bool_)
    for part in parts_of(nodes=nodes, where=(left.fill > 0) & ~left.poured):
        made = trowelled(nodes=nodes, fill_mm=fill_mm, part=part, placing=task.placing)
        if made is None:
            deep[part] = True
        else:
            hand += made
    return tuple(hand), left.poured | deep, deep


def _as_plan(
    *,
    placed: Placed,
    after: tuple[RuleReport, ...],
    earlier: tuple[EarlierPlan, ...],
    works: tuple[Work, ...],
    done: frozenset[str],
    alternate: str,
) -> Plan:
    last, round = earlier[-1], len(earlier) + 1
    works_on = bool(placed.grind.any() or placed.fill.any())
    made = plan_of_placed(
        placed=placed,
        after=after,
        alternate=alternate,
        solve=Solve(status="feasible" if works_on else "not-needed", objective=placed.cost, bound=0.0),
        considered=(),
        workability=None,
    )
    pending = tuple(work for work in works if work.id not in done)
    made = replace(
        made,
        plane=last.plan.plane,
        twist=last.plan.twist,
        pours=pours_of_left(made.pours, last=last, pending=pending, fill=made.fill, round=round),
        passes=made.passes and _meets_doorways(placed),
        finish_kept=last.plan.finishing() if works_on else None,
    )
    made = replace(made, problems=(*made.problems, *probability_gone(made)))
    compound = compound_by_now(earlier=earlier, done=done)
    made = on_compound(made, task=placed.task, where=compound > 0)
    made = with_limits(made, task=placed.task, compound=compound)
    return kept_names(made, pending=pending, round=round)


def _refuse_other_floor(*, task: Task, last: EarlierPlan) -> None:
    same = task.surface.grid == last.plan.grid and np.array_equal(task.surface.inside, last.plan.inside)
    if not same:
        detail = (
            f"floor {task.floor.id} is drawn otherwise than in the plan that is followed (its outline or "
            "grid_step differs), so that nobody can say what of it is done; post the rooms and options of "
            "that estimate"
        )
        raise refuse(code="floor-other-than-planned", detail=detail, pointer="/follows/estimate")
