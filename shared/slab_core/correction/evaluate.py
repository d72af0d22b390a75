"""A plan from a plane: grids in storage steps, quantities, pours, areas and the re-check."""

from dataclasses import dataclass

import numpy as np

from slab_core.correction.endings import rim_m
from slab_core.correction.grinding import grind_areas
from slab_core.correction.kernels import FILL, GRIND, LEFT
from slab_core.correction.margins import margins_of, thin_margins
from slab_core.correction.model import Plan, Solve
from slab_core.correction.one_lift import one_lift_told
from slab_core.correction.pours import bays_on_grid, pours_of
from slab_core.correction.second_look import limits_crossed, second_look
from slab_core.correction.task import Task
from slab_core.correction.work import SKIN_MM, Work, classify, work_of_depths
from slab_core.numerics.grid import STEP_MM, Floats, Ints, Mask, to_metres
from slab_core.tolerance.check import check_heights
from slab_core.tolerance.model import Rule, RuleReport

SKINS_MM = (SKIN_MM, SKIN_MM / 2, 0.0)
"""Shallow patches are left where the rules allow it; else thinner ones; else none."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outcome:
    """Grinding and fill at the nodes in storage steps, the work they are, and the floor they leave: `after`
    by the floor's rules, `ramps` by each ramp's own."""

    grind: Ints
    fill: Ints
    work: Work
    after: tuple[RuleReport, ...]
    ramps: tuple[RuleReport, ...]

    def passes(self) -> bool:
        """Whether the corrected floor passes every rule."""
        return all(report.passes for report in (*self.after, *self.ramps))


def outcome_of_plane(*, task: Task, abc_mm: Floats) -> Outcome:
    """The work of a plane, and of the task's ramps on it, with as many shallow patches left as the rules
    allow."""
    nodes = task.case.nodes
    target = np.rint((abc_mm[0] + abc_mm[1] * nodes.u + abc_mm[2] * nodes.v) / STEP_MM).astype(np.int32)
    return _outcome_to(task=task, target=target)


def outcome_of_ramps(*, task: Task) -> Outcome:
    """The work of the task's ramps on the slab as it is."""
    return _outcome_to(task=task, target=task.surface.height[task.surface.inside])


def _outcome_to(*, task: Task, target: Ints) -> Outcome:
    found = _outcome(task=task, target=target, skin_mm=SKINS_MM[0])
    for skin in SKINS_MM[1:]:
        if found.passes():
            break
        found = _outcome(task=task, target=target, skin_mm=skin, known=found)
    return found


def plan_of_outcome(
    *,
    task: Task,
    outcome: Outcome,
    plane: tuple[float, float, float] | None,
    alternate: str,
    solve: Solve,
) -> Plan:
    """Everything that takeoff, papers and crews need of one outcome."""
    task = task.as_measured()
    case, work, nodes = task.case, outcome.work, task.case.nodes
    fill_mm, grind_mm = to_mm(outcome.fill), to_mm(outcome.grind)
    area = nodes.area_m2
    areas = grind_areas(floor=task.floor, case=case, grind_mm=grind_mm)
    fill_m3, fill_m2 = float(area @ fill_mm) * 1e-3, float(area[outcome.fill > 0].sum())
    mean_fill_m = fill_m3 / fill_m2 if fill_m2 > 0 else 0.0
    subject = f"floor {task.floor.id}"
    margins = margins_of(
        after=outcome.after,
        poured="screeded" if work.quantities.bags else None,
        trowels=False,
        grinds=bool(outcome.grind.any()),
    )
    problems = second_look(
        grind_areas=areas, mean_fill_m=mean_fill_m, after=outcome.after, floor=task.floor
    ) + limits_crossed(
        grind_m=work.greatest_grind_mm * 1e-3,
        fill_m=work.greatest_fill_mm * 1e-3,
        grind_cap_m=case.grind_cap_mm * 1e-3,
        fill_cap_m=case.fill_cap_mm * 1e-3,
        subject=subject,
    )
    problems += one_lift_told(
        compound=task.compound, limits=task.limits, bags=work.quantities.bags, subject=subject
    )
    problems += thin_margins(after=outcome.after, margins=margins, subject=subject)
    return Plan(
        floor_id=task.floor.id,
        alternate=alternate,
        solve=solve,
        plane=plane,
        grid=nodes.grid,
        inside=nodes.inside,
        grind=_on_grid(task=task, values=outcome.grind),
        fill=_on_grid(task=task, values=outcome.fill),
        grind_m3=float(area @ grind_mm) * 1e-3,
        grind_m2=float(area[outcome.grind > 0].sum()),
        fill_m3=fill_m3,
        fill_m2=fill_m2,
        greatest_grind_m=work.greatest_grind_mm * 1e-3,
        greatest_fill_m=work.greatest_fill_mm * 1e-3,
        mean_fill_m=mean_fill_m,
        grinder_hours=work.quantities.machine_hours,
        hand_grinder_hours=work.quantities.hand_hours,
        pours=pours_of(task=task, work=work, fill_mm=fill_mm, grind_mm=grind_mm),
        grind_areas=areas,
        bags=work.quantities.bags,
        pour_days=work.quantities.pour_days,
        border_m=work.quantities.border_m,
        after=outcome.after,
        passes=outcome.passes(),
        problems=problems,
        margins=margins,
        bays=bays_on_grid(nodes=nodes, poured=outcome.fill > 0),
        ending_m=ending_m(task=task, outcome=outcome),
    )  # fmt: skip


def ending_m(*, task: Task, outcome: Outcome) -> float:
    """The rim of a field that is brought to one plane: it ends at walls and where nothing may be filled."""
    if not task.case.nodes.unfilled.any():
        return 0.0
    poured = outcome.fill > 0
    return rim_m(task=task.as_measured(), poured=poured, fill=outcome.fill, grind=outcome.grind)


def untouched_plan(
    *, task: Task, alternate: str, solve: Solve, after: tuple[RuleReport, ...], passes: bool
) -> Plan:
    """A plan without any work: nothing is needed, or nothing that is allowed would do."""
    zeros = np.zeros(task.surface.height.shape, dtype=np.int32)
    return Plan(
        floor_id=task.floor.id, alternate=alternate, solve=solve, plane=None, grid=task.surface.grid,
        inside=task.surface.inside, grind=zeros, fill=zeros.copy(), grind_m3=0.0, grind_m2=0.0, fill_m3=0.0,
        fill_m2=0.0, greatest_grind_m=0.0, greatest_fill_m=0.0, mean_fill_m=0.0, grinder_hours=0.0,
        hand_grinder_hours=0.0, pours=(), grind_areas=(), bags=0, pour_days=0, border_m=0.0, after=after,
        passes=passes,
    )  # fmt: skip


def _outcome(*, task: Task, target: Ints, skin_mm: float, known: Outcome | None = None) -> Outcome:
    """The known outcome where a thinner skin changes nothing, so that no check is made twice."""
    grind, fill, work = _steps(task=task, target=target, skin_mm=skin_mm)
    if known is not None and np.array_equal(known.work.state, work.state):
        return known
    return Outcome(
        grind=grind,
        fill=fill,
        work=work,
        after=recheck(task=task, grind=grind, fill=fill),
        ramps=recheck_ramps(task=task, grind=grind, fill=fill),
    )


def _steps(*, task: Task, target: Ints, skin_mm: float) -> tuple[Ints, Ints, Work]:
    """Decide and count on what is stored: `target` in storage steps, ramps on top. A family that does not
    fill leaves low places that a thinner skin would have filled; one that does not grind, those it would
    key, as is done in keep-out zones."""
    case, nodes = task.case, task.case.nodes
    steps = target - task.surface.height[nodes.inside]
    if task.ramped is not None:
        steps += task.ramped.lift
    depth = to_mm(steps)
    state = classify(case=case, depth_mm=depth, skin_mm=skin_mm)
    least = int(np.rint(case.least_mm / STEP_MM))
    if not task.family.fills:
        state[state == FILL] = LEFT
    keyless = nodes.unground | (not task.family.grinds)
    state[keyless & (state == FILL) & (steps < least)] = LEFT
    fill = np.where(state == FILL, np.maximum(steps, least), 0).astype(np.int32)
    grind = np.where(state == GRIND, -steps, np.where(state == FILL, fill - steps, 0)).astype(np.int32)
    return grind, fill, work_of_depths(case=case, depth_mm=depth, state=state)


def recheck(*, task: Task, grind: Ints, fill: Ints) -> tuple[RuleReport, ...]:
    """The floor that grinding and fill at the nodes leave, against every rule, by the tolerance code. Edges
    keep off ramps, which have rules of their own."""
    return _checked(task=task, grind=grind, fill=fill, where=task.off_ramps(), rules=task.rules)


def recheck_ramps(*, task: Task, grind: Ints, fill: Ints) -> tuple[RuleReport, ...]:
    """Each of the task's ramps, and the floor around it, against the ramp's own rule."""
    zones = task.ramped.zones if task.ramped else ()
    return tuple(
        report
        for zone in zones
        for report in _checked(task=task, grind=grind, fill=fill, where=zone.around, rules=(zone.rule,))
    )


def _checked(
    *, task: Task, grind: Ints, fill: Ints, where: Mask, rules: tuple[Rule, ...]
) -> tuple[RuleReport, ...]:
    corrected = task.surface.height.copy()
    corrected[task.surface.inside] += fill - grind
    heights = to_metres(corrected)
    return check_heights(
        floor=task.floor, grid=task.surface.grid, rules=rules, heights_m=heights, inside=where
    )


def to_mm(steps: Ints) -> Floats:
    """Storage steps as millimetres."""
    return steps.astype(np.float64) * STEP_MM


def _on_grid(*, task: Task, values: Ints) -> Ints:
    grid = np.zeros(task.surface.height.shape, dtype=np.int32)
    grid[task.surface.inside] = values
    return grid
