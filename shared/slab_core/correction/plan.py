"""The cheapest plane of an alternate that a crew can grind and fill a floor to, with a proven bound."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from slab_core.correction.assurance.assured import assured
from slab_core.correction.assurance_model import Confidence
from slab_core.correction.evaluate import outcome_of_plane, plan_of_outcome
from slab_core.correction.family import FAMILIES, LevelPoint
from slab_core.correction.maker import Maker
from slab_core.correction.model import Limits, Plan, Solve
from slab_core.correction.placing.workability import beside_optimum
from slab_core.correction.ramps.ramped import as_planned
from slab_core.correction.ramps_model import DoorWays
from slab_core.correction.resurvey.plan_of_left import plan_of_left
from slab_core.correction.resurvey.standing import Standing
from slab_core.correction.task import Task, make_task, restricted
from slab_core.correction.unrestricted import unrestricted
from slab_core.materials.model import Climate, Compound, Covering, Patch
from slab_core.materials.rates_model import PlanningCosts, Rates
from slab_core.numerics.budget import Budget
from slab_core.rooms.model import Floor
from slab_core.stages import CHEAPEST, PLANE
from slab_core.surface.model import Surface
from slab_core.tolerance.model import Rule, ToleranceReport


def plan(
    *,
    floor: Floor,
    surface: Surface,
    report: ToleranceReport,
    rules: tuple[Rule, ...],
    limits: Limits,
    planning: PlanningCosts,
    rates: Rates,
    compound: Compound,
    covering: Covering,
    adhesive_film_m: float,
    hardness: str,
    budget: Budget,
    climate: Climate = Climate(),
    alternate: str = PLANE,
    level_points: Sequence[LevelPoint] = (),
    room_pointers: Mapping[str, str] | None = None,
    lower_bound: bool = False,
    patch: Patch = Patch(),
    confidence: Confidence | None = None,
    standing: Standing | None = None,
    doorways: DoorWays | None = None,
) -> Plan:
    """The cheapest plane of the alternate's family for one floor: of any slope ("plane": flat is not level,
    so nothing pulls it level), without any ("level", through the highest of the `level_points` that are on
    the floor), or with nothing filled ("grind-only") or ground ("fill-only"). "cheapest" is the cheapest
    floor of all that passes, on a plane or not, with the ways of placing in the model (placing/placement.py).

    Nothing is done to a floor that passes and meets its thresholds, unless it is to be level. Otherwise every
    node is brought to the plane, except connected patches so shallow that nobody could place them and that
    the rules allow. `solve.bound` is proven: no allowed plane of the family costs less in the same model.
    Heights in metres, costs in the currency of `planning`. `room_pointers` say by room id where its rooms
    stand in the posted job (RFC 6901); without them problems point as if the floor's rooms were the job's.
    With `lower_bound` the plan also says what the cheapest heights of all would cost, whatever can be placed
    and whatever the family. With `confidence` it is the cheapest plan of the family by which the floor passes
    so surely (assurance/assured.py). With `standing` it is the plan for what is left of an earlier one
    (resurvey/plan_of_left.py), and no confidence is worked out. With `doorways` a doorway may get a local
    ramp, another transition or a cut door where that costs less than bringing the whole floor to it
    (ramps/choice.py); with `confidence` ramps keep their own rule so surely too.

    Returns a plan of status "infeasible" with a refusal when no plane is allowed.

    Raises
    ------
    KeyError
        `hardness` has no factor in the rates; or the alternate is none of a plane.
    Stopped
        the caller ended it.
    """
    task = make_task(
        floor=floor, surface=surface, rules=rules, limits=limits, planning=planning, rates=rates,
        compound=compound, covering=covering, adhesive_film_m=adhesive_film_m, hardness=hardness,
        climate=climate, room_pointers=room_pointers, patch=patch,
    )  # fmt: skip

    own = task
    if alternate != CHEAPEST:
        own = restricted(task, family=FAMILIES[alternate], level_points=level_points)

    maker = Maker(
        alternate=alternate, doorways=doorways, labour_per_ph=task.placing.per_ph,
        spare_bag=planning.compound_per_bag, budget=budget,
    )  # fmt: skip
    if standing is not None:
        made = plan_of_left(
            task=own,
            report=report,
            standing=standing,
            alternate=alternate,
            fresh=lambda: maker.made(own, report).finished(),
        )
    elif confidence is None:
        made = maker.made(own, report).finished()
    else:
        labour = task.placing.per_ph
        made = assured(
            task=own, report=report, make=maker.made, asked=confidence, labour_per_ph=labour, budget=budget
        )
    wanted = lower_bound and made.solve.status != "not-needed"
    task = as_planned(task=task, works=made.doorways)
    return _with_lower_bound(made, task=task, budget=budget) if wanted else made


def evaluate_plane(
    *,
    floor: Floor,
    surface: Surface,
    rules: tuple[Rule, ...],
    limits: Limits,
    planning: PlanningCosts,
    rates: Rates,
    compound: Compound,
    covering: Covering,
    adhesive_film_m: float,
    hardness: str,
    plane: tuple[float, float, float],
    climate: Climate = Climate(),
    alternate: str = "given",
) -> Plan:
    """The plan for a plane that somebody chose: (height at the origin in m, slope in x, slope in y).

    Limits that it crosses are findings, not refusals; nothing is claimed about its bound (0).
    """
    task = make_task(
        floor=floor, surface=surface, rules=rules, limits=limits, planning=planning, rates=rates,
        compound=compound, covering=covering, adhesive_film_m=adhesive_film_m, hardness=hardness,
        climate=climate,
    )  # fmt: skip
    outcome = outcome_of_plane(task=task, abc_mm=task.case.nodes.from_plane(plane))
    solve = Solve(status="feasible", objective=outcome.work.cost, bound=0.0)
    return plan_of_outcome(task=task, outcome=outcome, plane=plane, alternate=alternate, solve=solve)


def _with_lower_bound(plan: Plan, *, task: Task, budget: Budget) -> Plan:
    return beside_optimum(
        replace(plan, unrestricted=unrestricted(task=task, solve=plan.solve, budget=budget))
    )
