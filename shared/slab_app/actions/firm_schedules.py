"""Use cases of the firm's schedule, a kind of run of its own.

Posting and publishing are called inside `once`, which commits; cancelling commits itself.
"""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

import msgspec

from slab_app.actor import Actor
from slab_app.codec import Encoded, decode, encode
from slab_app.errors import NotFound, NotReady
from slab_core.schedule.firm.asked import Ask, FirmAnswer, FirmQuestion
from slab_core.schedule.firm.model import FirmPlan
from slab_core.stages import firm_steps
from slab_store.published_schedules import PublishedSchedule
from slab_store.runs import NewRun, Run, RunInput, RunKind, RunStep
from slab_store.unit_of_work import UnitOfWork

KIND: RunKind = "firm-schedule"


@dataclass(frozen=True, slots=True, kw_only=True)
class FirmSchedule:
    """A schedule of the firm as a client may watch it."""

    run: Run
    ask: Ask
    step: RunStep


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """A question with its answer; `digest` names the content."""

    question: FirmQuestion
    answer: FirmAnswer
    digest: bytes

    def plan(self) -> FirmPlan:
        """The plan. Raises NotReady for a what-if, which makes none."""
        if self.answer.plan is None:
            raise NotReady("this is a what-if and has no plan of its own; post a replan with the job in it")
        return self.answer.plan


class _Asked(msgspec.Struct):
    """Of a stored question what a list shows."""

    ask: Ask


def post_schedule(uow: UnitOfWork, actor: Actor, *, id: UUID, question: FirmQuestion, now: datetime) -> None:
    """Write run, question, step and announcement. Raises slab_store.errors.AlreadyExists for a known id."""
    stored = encode(question)
    run = NewRun(
        id=id,
        seed=question.seed,
        posted_at=now,
        actor=actor.name,
        trace_id=actor.trace_id,
        kind=KIND,
    )
    uow.runs.post(run=run, run_input=RunInput(json=stored.json, arrays=stored.arrays), steps=firm_steps())


def get_schedule(uow: UnitOfWork, _actor: Actor, *, id: UUID) -> FirmSchedule:
    """The schedule with its one step. Raises NotFound."""
    run = uow.runs.get(run_id=id)
    run_input = uow.runs.input(run_id=id)
    if run is None or run_input is None or run.kind != KIND:
        raise NotFound("there is no schedule of the firm with this id")
    (step,) = uow.runs.steps(run_id=id)
    return FirmSchedule(run=run, ask=msgspec.json.decode(run_input.json, type=_Asked).ask, step=step)


def list_schedules(uow: UnitOfWork, _actor: Actor, *, limit: int, before: UUID | None) -> tuple[Run, ...]:
    """Schedules of the firm from the highest id down."""
    return uow.runs.list(limit=limit, before=before, kind=KIND)


def cancel_schedule(uow: UnitOfWork, actor: Actor, *, id: UUID) -> FirmSchedule:
    """End the computation now; one that is over stays as it is. Raises NotFound."""
    get_schedule(uow, actor, id=id)
    if uow.runs.cancel(run_id=id, actor=actor.name):
        schedule = get_schedule(uow, actor, id=id)
        uow.commit()
        return schedule
    return get_schedule(uow, actor, id=id)


def get_answer(uow: UnitOfWork, actor: Actor, *, id: UUID) -> Answered:
    """The question and its answer. Raises NotFound, NotReady."""
    schedule = get_schedule(uow, actor, id=id)
    return _answered(uow, run=schedule.run, step=schedule.step)


def find_question(uow: UnitOfWork, _actor: Actor, *, id: UUID) -> FirmQuestion | None:
    """What a schedule was asked, whether it is answered or not; None if there is no such schedule."""
    run, run_input = uow.runs.get(run_id=id), uow.runs.input(run_id=id)
    if run is None or run_input is None or run.kind != KIND:
        return None
    return decode(FirmQuestion, Encoded(json=run_input.json, arrays=run_input.arrays))


def publish_schedule(
    uow: UnitOfWork, actor: Actor, *, id: UUID, now: datetime
) -> tuple[Answered, PublishedSchedule]:
    """Put the plan in force: crews' calendars show it from now on. Raises NotFound, NotReady."""
    answered = get_answer(uow, actor, id=id)
    answered.plan()
    made = uow.published_schedules.add(run=id, now=now, actor=actor.name, trace_id=actor.trace_id)
    return answered, made


def last_published(uow: UnitOfWork, *, limit: int) -> tuple[tuple[Answered, PublishedSchedule], ...]:
    """The schedule in force, if one is, and those before it, newest first. Of the earlier ones those whose
    results are no longer kept are left out; raises NotFound when the first one's is not."""
    found = list[tuple[Answered, PublishedSchedule]]()
    for published in uow.published_schedules.newest(limit=limit):
        run = uow.runs.get(run_id=published.run)
        assert run is not None  # what is published refers to it
        (step,) = uow.runs.steps(run_id=run.id)
        try:
            found.append((_answered(uow, run=run, step=step), published))
        except NotFound:
            if not found:
                raise
    return tuple(found)


def _answered(uow: UnitOfWork, *, run: Run, step: RunStep) -> Answered:
    if step.digest is None or step.state != "done":
        raise NotReady(f"the schedule is {run.state}")
    stored = uow.results.get(digest=step.digest)
    run_input = uow.runs.input(run_id=run.id)
    if stored is None or run_input is None:
        raise NotFound("the result of this schedule is no longer kept; post it again")
    return Answered(
        question=decode(FirmQuestion, Encoded(json=run_input.json, arrays=run_input.arrays)),
        answer=decode(FirmAnswer, Encoded(json=stored.summary, arrays=stored.arrays)),
        digest=step.digest,
    )
