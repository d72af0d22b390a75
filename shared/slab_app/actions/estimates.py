"""Use cases of estimates. Posting is called inside `once`, which commits; the others commit themselves."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from slab_app.actor import Actor
from slab_app.codec import Encoded
from slab_app.errors import NotFound, NotReady
from slab_core.stages import BY_NAME, StepSpec
from slab_store.quotes import QuoteTotal
from slab_store.runs import NewRun, Run, RunInput, RunStep
from slab_store.unit_of_work import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """An estimate as a client may watch it."""

    run: Run
    steps: tuple[RunStep, ...]
    quotes: tuple[QuoteTotal, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class StageResult:
    """The stored result of one step; `digest` names its content."""

    stage: str
    subject: str
    alternate: str
    digest: bytes
    encoded: Encoded


def post_estimate(
    uow: UnitOfWork,
    actor: Actor,
    *,
    id: UUID,
    job: Encoded,
    steps: tuple[StepSpec, ...],
    seed: int,
    now: datetime,
    job_id: UUID | None = None,
) -> None:
    """Write run, input, steps and announcement. Raises slab_store.errors.AlreadyExists for a known id."""
    run = NewRun(id=id, seed=seed, posted_at=now, actor=actor.name, trace_id=actor.trace_id, job_id=job_id)
    uow.runs.post(run=run, run_input=RunInput(json=job.json, arrays=job.arrays), steps=steps)


def get_estimate(uow: UnitOfWork, _actor: Actor, *, id: UUID) -> Estimate:
    """The estimate with its steps. Raises NotFound."""
    run = uow.runs.get(run_id=id)
    if run is None or run.kind != "estimate":
        raise NotFound("there is no estimate with this id")
    return Estimate(run=run, steps=uow.runs.steps(run_id=id), quotes=uow.quotes.totals(run=id))


def list_estimates(
    uow: UnitOfWork, _actor: Actor, *, limit: int, before: UUID | None, job_id: UUID | None
) -> tuple[Run, ...]:
    """Estimates from the highest id down."""
    return uow.runs.list(limit=limit, before=before, job_id=job_id)


def cancel_estimate(uow: UnitOfWork, actor: Actor, *, id: UUID) -> Estimate:
    """End the estimate now; one that is over stays as it is. Raises NotFound."""
    if uow.runs.cancel(run_id=id, actor=actor.name):
        estimate = get_estimate(uow, actor, id=id)
        uow.commit()
        return estimate
    return get_estimate(uow, actor, id=id)


def get_result(
    uow: UnitOfWork, _actor: Actor, *, id: UUID, stage: str, subject: str | None, alternate: str | None
) -> StageResult:
    """One stage's result; the main alternate's, and the first floor's or scan's, unless one is named.

    Raises NotFound, NotReady.
    """
    run = uow.runs.get(run_id=id)
    if run is None:
        raise NotFound("there is no estimate with this id")
    step = _step(uow.runs.steps(run_id=id), stage=stage, subject=subject, alternate=alternate)
    if step.digest is None or step.state != "done":
        raise NotReady(f"{stage} is {step.state}, and the estimate is {run.state}")
    stored = uow.results.get(digest=step.digest)
    if stored is None:
        raise NotFound(f"the result of {stage} is no longer kept; post the estimate again")
    return StageResult(
        stage=stage,
        subject=step.subject,
        alternate=step.alternate,
        digest=step.digest,
        encoded=Encoded(json=stored.summary, arrays=stored.arrays),
    )


def _main_alternate(steps: tuple[RunStep, ...]) -> str:
    """The one that was asked for first; "" of an estimate without any."""
    return next((step.alternate for step in steps if step.alternate), "")


def _step(steps: tuple[RunStep, ...], *, stage: str, subject: str | None, alternate: str | None) -> RunStep:
    """The step that the query names. Raises NotFound that names what there is."""
    spec = BY_NAME[stage]
    wanted = (alternate or _main_alternate(steps)) if spec.by_alternate else ""
    ours = [step for step in steps if step.stage == stage and step.alternate == wanted]
    if not ours and not spec.by_alternate:
        raise NotFound(f"this estimate has no {stage}")
    if not ours:
        known = sorted({step.alternate for step in steps if step.alternate})
        raise NotFound(f"there is no alternate {wanted!r}; there are {', '.join(known)}")
    if spec.subject != "job" and subject is not None:
        found = [step for step in ours if step.subject == subject]
        if not found:
            known = sorted({step.subject for step in ours})
            raise NotFound(f"there is no {spec.subject} {subject!r}; there are {', '.join(known)}")
        return found[0]
    return ours[0]
