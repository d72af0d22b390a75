"""The cheapest floor that passes, with the ways in which fill is placed in the model.

Weighed against each other, each with its full cost and the tolerance code's own re-check: places trowelled
and ground alone, some parts poured to pins and the rest trowelled, the floor brought near one plane or ruled
surface, screeded or poured free, and the whole field brought to the cheapest plane. Never is a pour credited
with a patch's volume: what is poured pays its bags, primer, pins, endings and day, what is trowelled its
hours.
"""

from collections.abc import Callable
from dataclasses import replace
from itertools import product

import numpy as np

from slab_core.correction.evaluate import SKINS_MM, untouched_plan
from slab_core.correction.model import Plan, Solve, proven_to
from slab_core.correction.pending import Pending, as_it_is
from slab_core.correction.placing.bound import lower_bound
from slab_core.correction.placing.followed import weigh_followed
from slab_core.correction.placing.mended import Mender
from slab_core.correction.placing.on_surface import near_surface
from slab_core.correction.placing.placed import Placed, place, poured_free
from slab_core.correction.placing.placed_plan import plan_of_placed
from slab_core.correction.placing.tidied import tidied
from slab_core.correction.placing.weighing import Weighing
from slab_core.correction.placing.workability import workability_of_placed
from slab_core.correction.placing_error import allowed_gap_m
from slab_core.correction.planes.ruled import Ruled, best_ruled, height_of
from slab_core.correction.task import Task
from slab_core.correction.thresholds import slab_is_in_range
from slab_core.correction.work import SKIN_MM
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats
from slab_core.stages import CHEAPEST
from slab_core.tolerance.model import ToleranceReport

NEAR, PLANE_FIELD, RULED = "near a plane", "on a plane", "ruled"

SPARING = (1.0, 0.5)
"""Shares of the rule by which high places are left above a plane."""

MOST_CHECKS = 4

LOWERED_MM = (0.0, 1.5, 3.0)
"""How far below the cheapest plane of all nodes one is tried, where high places may be left."""


def cheapest_placement(
    *, task: Task, report: ToleranceReport, planes: Callable[[], Plan], beat: float, budget: Budget
) -> Pending:
    """The plan of least cost over all ways of placing that the task allows, its bound to be worked out.

    `planes` gives the plan of the cheapest plane, which may be infeasible. `solve.bound` holds for every way
    of placing weighed here (bound.py says why). Ramps lie on whatever the rest of the floor is
    brought to: heights are looked for less the ramps, and checked with them. Where nothing passes the plan of
    the plane is given back with its refusal or finding. Ways that cost no less than `beat` are not checked
    against the rules; with none but such the plan is of status "infeasible".

    Raises
    ------
    Stopped
        the caller ended it.
    """
    in_range = all(slab_is_in_range(door=door, surface=task.surface) for door in task.doors)
    if report_passes(report) and in_range and task.ramped is None:
        nothing = Solve(status="not-needed", objective=0.0, bound=0.0)
        plan = untouched_plan(task=task, alternate=CHEAPEST, solve=nothing, after=report.rules, passes=True)
        return as_it_is(plan)
    weighing = Weighing(beat=beat)
    shapes_cost = weigh_followed(task=task, weighing=weighing, budget=budget)
    plane = planes()
    _surfaces(task=task, plane=plane, weighing=weighing, budget=budget)
    _tidy(task=task, weighing=weighing, budget=budget)
    best = weighing.best
    if best is None:
        given = replace(plane, alternate=CHEAPEST, considered=weighing.considered())
        if weighing.turned_away:
            given = replace(given, solve=replace(given.solve, status="infeasible"))
        return as_it_is(given)
    to_the_rule = RULED in weighing.kinds or _spared_mm(task=task, share=min(SPARING)) <= 0.0

    def bounded(plan: Plan) -> Plan:
        bound = lower_bound(task=task, best=best, plane=plane, to_the_rule=to_the_rule, budget=budget)
        return replace(plan, solve=proven_to(objective=best.cost, bound=bound))

    plan = plan_of_placed(
        placed=best,
        after=weighing.after,
        alternate=CHEAPEST,
        solve=Solve(status="feasible", objective=best.cost, bound=0.0),
        considered=weighing.considered(),
        workability=None if shapes_cost is None else workability_of_placed(best, shapes_cost=shapes_cost),
    )
    return Pending(plan=plan, rest=bounded)


def _tidy(*, task: Task, weighing: Weighing, budget: Budget) -> None:
    """The best way without specks that nobody can work, where it passes so too."""
    if weighing.best is not None:
        tidy = tidied(weighing.best, task=task, mender=Mender(task=task, budget=budget))
        if tidy is not None:
            weighing.exchange(tidy)


def report_passes(report: ToleranceReport) -> bool:
    """Whether the floor keeps every straightedge rule as it is."""
    return all(rule.passes for rule in report.rules)


def _surfaces(*, task: Task, plane: Plan, weighing: Weighing, budget: Budget) -> None:
    """Ways that follow one plane or ruled surface."""
    if plane.solve.status != "infeasible" and plane.plane is not None:
        abc = task.case.nodes.from_plane(plane.plane)
        weighing.offer(_plane_field(task=task, plane=plane, abc_mm=abc), kind=PLANE_FIELD)
        _near(task=task, abce_mm=np.append(abc, 0.0), weighing=weighing, kind=NEAR, budget=budget)
    if plane.solve.status == "infeasible" or weighing.best is None:
        ruled = best_ruled(task=task, start=None, budget=budget)
        if ruled is not None:
            _ruled_field(task=task, ruled=ruled, weighing=weighing)
            _near(task=task, abce_mm=ruled.abce_mm, weighing=weighing, kind=RULED, budget=budget)


def _plane_field(*, task: Task, plane: Plan, abc_mm: Floats) -> Placed:
    inside = task.surface.inside
    return place(
        name=PLANE_FIELD,
        task=task,
        grind=plane.grind[inside],
        fill=plane.fill[inside],
        poured=plane.fill[inside] > 0,
        by_hand=(),
        abc_mm=abc_mm,
        whole_field=True,
    )


def _ruled_field(*, task: Task, ruled: Ruled, weighing: Weighing) -> None:
    """With shallow skins left where the rules allow it, else thinner ones, else none."""
    for skin_mm in SKINS_MM:
        placed = near_surface(
            name=RULED,
            task=task,
            height_mm=height_of(task=task, abce_mm=ruled.abce_mm),
            spared_mm=0.0,
            abc_mm=ruled.abce_mm[:3],
            twist_mm=float(ruled.abce_mm[3]),
            skin_mm=skin_mm,
        )
        if weighing.offer(placed, kind=RULED).passes:
            return


def _near(*, task: Task, abce_mm: Floats, weighing: Weighing, kind: str, budget: Budget) -> None:
    """Surfaces parallel to one and a little lower, with high places left as far as the rules surely allow."""
    height, free_kind = height_of(task=task, abce_mm=abce_mm), f"{kind}, poured free"
    made: list[tuple[Placed, str]] = []
    for lowered, share in product(LOWERED_MM, SPARING):
        if budget.left_s() <= 0.0:
            break
        placed = near_surface(
            name=kind,
            task=task,
            height_mm=height - lowered,
            spared_mm=_spared_mm(task=task, share=share),
            abc_mm=abce_mm[:3] - np.array([lowered, 0.0, 0.0]),
            twist_mm=float(abce_mm[3]),
        )
        if placed is not None:
            made.append((placed, kind))
            free = poured_free(placed, task=task)
            if free.is_free() and not weighing.cannot_be_free(free, kind=free_kind):
                made.append((free, free_kind))
    for k, (placed, name) in enumerate(sorted(made, key=lambda one: one[0].cost)):
        if placed.cost >= weighing.least_cost() or k >= MOST_CHECKS:
            weighing.tell(placed, kind=name)
        else:
            weighing.offer(placed, kind=name)


def _spared_mm(*, task: Task, share: float) -> float:
    """How far above a surface high places are left: 0 where the rules are so tight that nothing is spared,
    and the field is planned to them like one that is screeded to a plane."""
    return max(0.0, share * min(allowed_gap_m(gap_m=rule.gap_m) for rule in task.rules) * 1e3 - SKIN_MM)
