"""The plans that work on a job has followed so far: part of a job that is measured again while it goes on."""

from dataclasses import dataclass
from datetime import datetime

from slab_core.correction.model import GrindArea, PatchArea, Plan, Pour
from slab_core.errors import Problem
from slab_core.numerics.grid import Ints
from slab_core.surveys.model import Survey

ROUND = "round"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EarlierPlan:
    """A floor's plan, the heights that it began from (0.01 mm steps, on the plan's grid), and the greatest
    and the least lift that it is poured in, in metres (the least 0 where compound runs out to a feather)."""

    plan: Plan
    began: Ints
    lift_m: float
    least_m: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Followed:
    """`plans` of all floors, a floor's oldest first. `readings` is how many the first of them was made from.

    With `keep_heights` what is left goes on to the heights of the last plan, as where its pins are set. The
    last pour ended at `poured_at`; unknown, it counts as just ended. `done_codes` are kinds of work of the
    takeoff that are done beside what the surveys say, `done_before` those that the followed estimate had left
    out already.
    """

    estimate: str
    plans: tuple[EarlierPlan, ...]
    readings: int
    keep_heights: bool = True
    poured_at: datetime | None = None
    done_codes: tuple[str, ...] = ()
    done_before: tuple[str, ...] = ()

    def of_floor(self, floor_id: str) -> tuple[EarlierPlan, ...]:
        """The floor's plans, the oldest first."""
        return tuple(earlier for earlier in self.plans if earlier.plan.floor_id == floor_id)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Standing:
    """Where work on one floor stands: its plans so far, the oldest first, and the ids of what is done."""

    plans: tuple[EarlierPlan, ...]
    done: tuple[str, ...]
    keep_heights: bool


def standing_of(*, floor_id: str, surveys: tuple[Survey, ...], followed: Followed | None) -> Standing | None:
    """Where work on the floor stands; None where no plan of it is followed."""
    plans = followed.of_floor(floor_id) if followed is not None else ()
    if followed is None or not plans:
        return None
    done = done_work(surveys=surveys, followed=followed)
    own = {id for earlier in plans for id in work_ids(earlier.plan)}
    return Standing(plans=plans, done=tuple(sorted(done & own)), keep_heights=followed.keep_heights)


def last_plans(followed: Followed) -> dict[str, Plan]:
    """Each floor's last plan."""
    return {earlier.plan.floor_id: earlier.plan for earlier in followed.plans}


def has_poured(*, surveys: tuple[Survey, ...], followed: Followed) -> bool:
    """Whether any pour of any plan is done."""
    done = done_work(surveys=surveys, followed=followed)
    return any(pour.id in done for earlier in followed.plans for pour in earlier.plan.pours)


def work_ids(plan: Plan) -> tuple[str, ...]:
    """The ids of all that a plan has done: areas to grind, pours, places to trowel."""
    parts: tuple[GrindArea | Pour | PatchArea, ...] = (*plan.grind_areas, *plan.pours, *plan.patches)
    return tuple(part.id for part in parts)


def group_names(*, floor_id: str, round: int) -> tuple[str, str, str]:
    """Names of all grinding, all pours and all trowelling of a floor's plan; the first plan is round 1."""
    head = floor_id if round == 1 else f"{floor_id}-{ROUND}{round}"
    return f"{head}-grinding", f"{head}-pours", f"{head}-patches"


def names_of_work(followed: Followed) -> dict[str, tuple[str, ...]]:
    """Every name by which a survey may say what was done, and the ids that it stands for."""
    names: dict[str, tuple[str, ...]] = {}
    rounds: dict[str, int] = {}
    for earlier in followed.plans:
        plan = earlier.plan
        rounds[plan.floor_id] = rounds.get(plan.floor_id, 0) + 1
        names.update({id: (id,) for id in work_ids(plan)})
        groups = group_names(floor_id=plan.floor_id, round=rounds[plan.floor_id])
        names[groups[0]] = tuple(area.id for area in plan.grind_areas)
        names[groups[1]] = tuple(pour.id for pour in plan.pours)
        names[groups[2]] = tuple(patch.id for patch in plan.patches)
    return names


def known_work(*, surveys: tuple[Survey, ...], followed: Followed) -> tuple[frozenset[str], ...]:
    """For each survey the ids of the work that was done when it was measured.

    Beside what it names that is all work of the plans before the one it names work of: a plan for what is
    left was made when that was done. Names that nothing has stand for nothing.
    """
    names, last = names_of_work(followed), _last_plans(followed)
    named = tuple(frozenset(id for name in survey.after for id in names.get(name, ())) for survey in surveys)
    done: frozenset[str] = frozenset().union(*named)
    return tuple(own | _before(own, done=done, last=last) for own in named)


def done_work(*, surveys: tuple[Survey, ...], followed: Followed) -> frozenset[str]:
    """The ids of all work that is done by now."""
    return frozenset().union(*known_work(surveys=surveys, followed=followed))


def _last_plans(followed: Followed) -> dict[str, tuple[str, int]]:
    """For each id its floor and the number of the floor's last plan that has it."""
    last: dict[str, tuple[str, int]] = {}
    rounds: dict[str, int] = {}
    for earlier in followed.plans:
        floor = earlier.plan.floor_id
        rounds[floor] = rounds.get(floor, 0) + 1
        last.update(dict.fromkeys(work_ids(earlier.plan), (floor, rounds[floor])))
    return last


def _before(own: frozenset[str], *, done: frozenset[str], last: dict[str, tuple[str, int]]) -> frozenset[str]:
    newest: dict[str, int] = {}
    for floor, number in (last[id] for id in own):
        newest[floor] = max(number, newest.get(floor, 0))
    return frozenset(id for id in done if last[id][1] < newest.get(last[id][0], 0))


def unknown_work(
    surveys: tuple[Survey, ...], *, names: dict[str, tuple[str, ...]] | None
) -> tuple[Problem, ...]:
    """A refusal for each name of work that no followed plan has; `names` is None where none is followed."""
    return tuple(
        Problem(
            code="work-unknown",
            detail=_unknown(name, names=names),
            pointer=f"/surveys/{i}/after/{k}",
            severity="refusal",
        )
        for i, survey in enumerate(surveys)
        for k, name in enumerate(survey.after)
        if names is None or name not in names
    )


def _unknown(name: str, *, names: dict[str, tuple[str, ...]] | None) -> str:
    if names is None:
        return f"“{name}” is work of an earlier plan; name its estimate in follows, or leave after out"
    known = ", ".join(f"“{one}”" for one in sorted(names)[:12])
    more = f" and {len(names) - 12} more" if len(names) > 12 else ""
    return f"the plan that is followed has no work “{name}”; it has {known}{more}"
