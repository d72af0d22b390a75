"""The earlier plan that a job's work has followed, found and checked."""

from dataclasses import replace
from typing import TypeVar
from uuid import UUID

from slab_api.intake.reader import Reader
from slab_api.schemas.follows import FollowsDocument
from slab_api.schemas.options import OptionsDocument
from slab_app.codec import Encoded, decode
from slab_core.correction.model import Plan
from slab_core.correction.resurvey.standing import EarlierPlan, Followed
from slab_core.job import Job
from slab_core.materials.model import Compound
from slab_core.rooms.model import Room
from slab_core.surface.model import Surface
from slab_core.surveys.check import row_count
from slab_core.takeoff.codes import TASK
from slab_core.takeoff.finished import finished_codes
from slab_store.runs import Run, RunStep
from slab_store.unit_of_work import UnitOfWork

Model = TypeVar("Model")


def read_follows(
    uow: UnitOfWork,
    *,
    follows: FollowsDocument | None,
    options: OptionsDocument,
    rooms: tuple[Room, ...],
    job_id: UUID | None,
    reader: Reader,
) -> Followed | None:
    """What was followed, complete in itself; None, with faults, where that cannot be."""
    if follows is None:
        return None
    _check_options(follows, options=options, reader=reader)
    run = uow.runs.get(run_id=follows.estimate)
    earlier = _earlier_job(uow, run=run, job_id=job_id, rooms=rooms, reader=reader)
    if earlier is None:
        return None
    if follows.alternate not in earlier.alternates:
        known = ", ".join(earlier.alternates)
        reader.fault(f"that estimate has no {follows.alternate!r}; it has {known}", ("follows", "alternate"))
        return None
    plans = _plans(uow, follows=follows, compound=earlier.catalogue.compound)
    if plans is None:
        detail = "its plans were refused or are no longer kept; post that estimate again and follow it"
        reader.fault(detail, ("follows", "estimate"))
        return None
    before = earlier.followed
    return Followed(
        estimate=str(follows.estimate),
        plans=(*(before.plans if before else ()), *plans),
        readings=before.readings if before else sum(map(row_count, earlier.surveys)),
        keep_heights=follows.keep_heights,
        poured_at=follows.last_pour_at,
        done_codes=follows.done,
        done_before=tuple(sorted(finished_codes(surveys=earlier.surveys, followed=before))),
    )


def _check_options(follows: FollowsDocument, *, options: OptionsDocument, reader: Reader) -> None:
    if "alternates" in options.model_fields_set and options.alternates != (follows.alternate,):
        detail = f"what is left of a plan has the one alternate that was followed, {follows.alternate!r}"
        reader.fault(f"{detail}; leave this out", ("options", "alternates"))
    if options.confidence is not None:
        detail = "how surely a floor passes is not worked out for what is left of a plan; leave this out"
        reader.fault(detail, ("options", "confidence"))
    if options.basis == "allowance":
        reader.fault("work that goes on has a surveyed slab; set basis to surveyed", ("options", "basis"))
    for i, code in enumerate(follows.done):
        if code not in TASK:
            known = ", ".join(TASK)
            reader.fault(f"{code!r} is no kind of work; there are {known}", ("follows", "done", i))


def _earlier_job(
    uow: UnitOfWork, *, run: Run | None, job_id: UUID | None, rooms: tuple[Room, ...], reader: Reader
) -> Job | None:
    at = ("follows", "estimate")
    posted = None if run is None else uow.runs.input(run_id=run.id)
    if run is None or run.kind != "estimate" or posted is None:
        reader.fault("there is no estimate with this id", at)
        return None
    if run.job_id != job_id:
        reader.fault("that estimate is of another job; name one of this job", at)
        return None
    if run.state != "completed":
        reader.fault(f"that estimate is {run.state}; follow one that is completed", at)
        return None
    job = decode(Job, Encoded(json=posted.json, arrays=posted.arrays))
    if job.basis != "surveyed":
        reader.fault("that estimate was made before anybody saw the slab and has no plan to follow", at)
        return None
    if [_shape(room) for room in job.rooms] != [_shape(room) for room in rooms]:
        detail = "that estimate is of other rooms, or their outlines, holes or openings have changed since"
        reader.fault(f"{detail}; follow one of the same rooms", at)
        return None
    return job


def _shape(room: Room) -> Room:
    """What the floor's nodes depend on; names, thresholds and rules may change while work goes on."""
    return replace(
        room, name="", openings=tuple(replace(opening, threshold=None) for opening in room.openings)
    )


def _plans(
    uow: UnitOfWork, *, follows: FollowsDocument, compound: Compound
) -> tuple[EarlierPlan, ...] | None:
    """The plan of each floor with the heights that it began from; None if any is missing."""
    steps = uow.runs.steps(run_id=follows.estimate)
    lift_m, least_m = compound.greatest_lift_m, 0.0 if compound.featheredge else compound.least_lift_m
    found = []
    for step in steps:
        if step.stage != "correction" or step.alternate != follows.alternate:
            continue
        surface = next(one for one in steps if one.stage == "surface" and one.subject == step.subject)
        plan, heights = _result(uow, step, Plan), _result(uow, surface, Surface)
        if plan is None or heights is None:
            return None
        slim = replace(plan, after=(), considered=(), problems=(), next_readings=None, progress=None)
        found.append(EarlierPlan(plan=slim, began=heights.height, lift_m=lift_m, least_m=least_m))
    return tuple(found) or None


def _result(uow: UnitOfWork, step: RunStep, kind: type[Model]) -> Model | None:
    if step.state != "done" or step.digest is None:
        return None
    stored = uow.results.get(digest=step.digest)
    return None if stored is None else decode(kind, Encoded(json=stored.summary, arrays=stored.arrays))
