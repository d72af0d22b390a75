"""Names of work in a plan for what is left: what stays keeps its name, what is new tells its round."""

from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

from slab_core.correction.model import GrindArea, PatchArea, Plan
from slab_core.correction.resurvey.standing import ROUND
from slab_core.correction.resurvey.works import Work, node_at
from slab_core.numerics.grid import Grid

Part = TypeVar("Part", GrindArea, PatchArea)


def fresh_names(plan: Plan, *, round: int) -> Plan:
    """All work under new names, so that nobody takes it for that of an earlier plan."""
    return replace(
        plan,
        grind_areas=tuple(replace(a, id=_new(a.id, plan=plan, round=round)) for a in plan.grind_areas),
        pours=tuple(replace(p, id=_new(p.id, plan=plan, round=round)) for p in plan.pours),
        patches=tuple(replace(p, id=_new(p.id, plan=plan, round=round)) for p in plan.patches),
    )


def kept_names(plan: Plan, *, pending: tuple[Work, ...], round: int) -> Plan:
    """Areas to grind and places to trowel of the earlier plan that are not done keep their names."""
    return replace(
        plan,
        grind_areas=_named(plan.grind_areas, plan=plan, pending=pending, kinds=("grind",), round=round),
        patches=_named(plan.patches, plan=plan, pending=pending, kinds=("patch", "skim"), round=round),
    )


def _named(
    parts: Sequence[Part], *, plan: Plan, pending: tuple[Work, ...], kinds: tuple[str, ...], round: int
) -> tuple[Part, ...]:
    """A part has the name of the work that its deepest place lies in, unless another has it already."""
    given: set[str] = set()
    named: list[Part] = []
    for part in parts:
        old = _work_at(part, grid=plan.grid, pending=pending, kinds=kinds)
        id = old if old and old not in given else _new(part.id, plan=plan, round=round)
        given.add(id)
        named.append(replace(part, id=id))
    return tuple(named)


def _work_at(part: Part, *, grid: Grid, pending: tuple[Work, ...], kinds: tuple[str, ...]) -> str:
    at = node_at(grid, part.at)
    return next((work.id for work in pending if work.kind in kinds and work.where[at]), "")


def _new(id: str, *, plan: Plan, round: int) -> str:
    return f"{plan.floor_id}-{ROUND}{round}{id.removeprefix(plan.floor_id)}"
