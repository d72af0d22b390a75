"""Notes what each alternate comes to when it is priced or refused, in the transaction of its step."""

from collections.abc import Iterable
from uuid import UUID

import msgspec

from slab_app.work.ports import Computed
from slab_core.stages import StepSpec
from slab_store.alternates import AlternateSummary
from slab_store.unit_of_work import UnitOfWork

LAST_STAGE = "quote"


class _Solve(msgspec.Struct):
    objective: float


class _Plan(msgspec.Struct):
    """Of a stored correction what a summary needs."""

    solve: _Solve
    passes: bool
    bags: int
    grinder_hours: float
    hand_grinder_hours: float


class _Days(msgspec.Struct):
    """Of a stored schedule what a summary needs."""

    pour_days: int
    site_days: int


class _Allowed(msgspec.Struct):
    code: str
    planned: float


class _Allowance(msgspec.Struct):
    quantities: list[_Allowed]


class _Takeoff(msgspec.Struct):
    """Of a stored takeoff of a slab that nobody has seen what a summary needs."""

    allowance: _Allowance


def on_finished(uow: UnitOfWork, run: UUID, step: StepSpec, computed: Computed) -> None:
    """Note the alternate that has just been refused, or has just been priced."""
    if not step.alternate:
        return
    if computed.refuses:
        uow.runs.add_alternate(run_id=run, summary=AlternateSummary(alternate=step.alternate, refused=True))
    elif step.stage == LAST_STAGE:
        uow.runs.add_alternate(run_id=run, summary=_priced(uow, run=run, alternate=step.alternate))


def _priced(uow: UnitOfWork, *, run: UUID, alternate: str) -> AlternateSummary:
    steps = [step for step in uow.runs.steps(run_id=run) if step.alternate == alternate]
    plans = [
        msgspec.json.decode(found, type=_Plan)
        for found in _summaries(uow, (step.digest for step in steps if step.stage == "correction"))
    ]
    (schedule,) = _summaries(uow, (step.digest for step in steps if step.stage == "schedule"))
    days = msgspec.json.decode(schedule, type=_Days)
    if not plans:
        (takeoff,) = _summaries(uow, (step.digest for step in steps if step.stage == "takeoff"))
        return _unseen(alternate, days, msgspec.json.decode(takeoff, type=_Takeoff).allowance)
    return AlternateSummary(
        alternate=alternate,
        passes=all(plan.passes for plan in plans),
        plan_cost=sum(plan.solve.objective for plan in plans),
        bags=sum(plan.bags for plan in plans),
        grinding_hours=sum(plan.grinder_hours + plan.hand_grinder_hours for plan in plans),
        pour_days=days.pour_days,
        site_days=days.site_days,
    )


def _unseen(alternate: str, days: _Days, allowance: _Allowance) -> AlternateSummary:
    """Of a slab that nobody has seen nothing is known to pass, and nothing was planned."""
    allowed = {each.code: each.planned for each in allowance.quantities}
    return AlternateSummary(
        alternate=alternate,
        bags=round(allowed["bags"]),
        grinding_hours=allowed.get("grinding", 0.0),
        pour_days=days.pour_days,
        site_days=days.site_days,
    )


def _summaries(uow: UnitOfWork, digests: Iterable[bytes | None]) -> list[bytes]:
    """A result for each digest; two floors may share one."""
    wanted = [digest for digest in digests if digest is not None]
    found = uow.results.summaries(digests=wanted)
    return [found[digest] for digest in wanted]
