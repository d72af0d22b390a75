"""The firm's schedule: plan all jobs together, plan again after a slip, ask about one more job, publish."""

from datetime import datetime
from typing import Annotated, Protocol, TypeVar
from uuid import UUID

from fastapi import APIRouter, Depends, Query
from starlette.responses import Response

from slab_api.answers import json_answer, to_json
from slab_api.bodies.read import JSON
from slab_api.call import Call, Needs, tagged
from slab_api.call import created as created_answer
from slab_api.contract import Responses, body, created, faults, found, listed
from slab_api.contract import answer as schema_answer
from slab_api.contract_firm_schedules import calendar_answer
from slab_api.firm_views import answer_view, gantt_view, published_view, schedule_item, schedule_view
from slab_api.intake.firm_question import read_plan, read_replan, read_what_if
from slab_api.lists import page
from slab_api.parameters import Cursor, IdempotencyKey, PageSize, Prefer, RecordId
from slab_api.routes.waits import Watch
from slab_api.schemas.firm_schedules import FirmScheduleCreate, ReplanCreate, WhatIfCreate
from slab_app.actions.crew_calendars import read_schedule_calendar
from slab_app.actions.firm_schedules import (
    Answered,
    cancel_schedule,
    find_question,
    get_answer,
    get_schedule,
    list_schedules,
    post_schedule,
    publish_schedule,
)
from slab_app.actions.once import Answer
from slab_app.actor import Actor
from slab_app.calendar_text import MEDIA_TYPE
from slab_base.ids import new_id
from slab_core.schedule.firm.asked import FirmQuestion
from slab_store.unit_of_work import UnitOfWork

SCHEDULES = Watch(path="/v1/firm-schedules", load=get_schedule, view=schedule_view)
router = APIRouter(prefix=SCHEDULES.path, tags=["firm-schedules"])

Reads = Annotated[Call, Depends(Needs(scope="schedules:read"))]
Writes = Annotated[Call, Depends(Needs(scope="schedules:write"))]
Posts = Annotated[Call, Depends(Needs(scope="schedules:write", body=(JSON,)))]
CrewName = Annotated[
    str | None, Query(max_length=64, description="Id of a crew, as the schedule has it; else all crews.")
]

Asked = TypeVar("Asked", ReplanCreate, WhatIfCreate, contravariant=True)


class ReadAgain(Protocol[Asked]):
    """Reads what is asked about a plan that was answered. Raises ApiProblem."""

    def __call__(
        self, uow: UnitOfWork, /, *, posted: Asked, before: Answered, now: datetime
    ) -> FirmQuestion: ...


_FAULTS = (400, 401, 403, 404, 409, 413, 415, 422, 503, 507)
_CREATED: Responses = {
    200: schema_answer(
        "FirmSchedule",
        "It is over: the client was willing to wait (Prefer), and it was ready in time.",
        headers={"Preference-Applied": "The wait that was granted.", "Content-Location": "Its address."},
    ),
    202: schema_answer(
        "FirmSchedule",
        "It is queued.",
        headers={"Location": "Its address.", "Retry-After": "Seconds after which to look."},
    ),
}


@router.post(
    "",
    operation_id="postFirmSchedule",
    summary="Plan accepted quotes together",
    responses=_CREATED | faults(*_FAULTS),
    openapi_extra=body(FirmScheduleCreate),
    status_code=202,
)
async def post(call: Posts, idempotency_key: IdempotencyKey = None, prefer: Prefer = None) -> Response:
    """Who does what when, over all crews, machines and sites: promised days first, then the hours that are
    paid, then early finishes. The plan says how far it may be from the best there is."""

    def make(uow: UnitOfWork, actor: Actor) -> Answer:
        posted, now = call.document(FirmScheduleCreate), call.state.clock.now()
        like = None if posted.like is None else find_question(uow, actor, id=posted.like)
        question = read_plan(uow, posted=posted, like=like, now=now)
        return _queue(uow, actor, call, id=posted.id, question=question)

    return await SCHEDULES.posted(call, make)


@router.post(
    "/{id}/replans",
    operation_id="postReplan",
    summary="Plan again after a slip",
    responses=_CREATED | faults(*_FAULTS),
    openapi_extra=body(ReplanCreate),
    status_code=202,
)
async def post_replan(
    call: Posts, id: RecordId, idempotency_key: IdempotencyKey = None, prefer: Prefer = None
) -> Response:
    """What has begun stands, and what was promised is kept where it can be; of all such plans the one that
    moves least. It is a schedule of its own; the one before stays as it is."""
    return await _ask_again(call, before=id, document=ReplanCreate, read=read_replan)


@router.post(
    "/{id}/what-ifs",
    operation_id="postWhatIf",
    summary="Ask about one more job",
    responses=_CREATED | faults(*_FAULTS),
    openapi_extra=body(WhatIfCreate),
    status_code=202,
)
async def post_what_if(
    call: Posts, id: RecordId, idempotency_key: IdempotencyKey = None, prefer: Prefer = None
) -> Response:
    """Its first feasible start and its finish when nobody else moves; and, where that breaks its promise,
    who would have to move. No plan comes of it."""
    return await _ask_again(call, before=id, document=WhatIfCreate, read=read_what_if)


@router.get(
    "",
    operation_id="listFirmSchedules",
    summary="List schedules of the firm",
    responses=listed("FirmScheduleItem") | faults(400, 401, 403, 503),
)
def list_all(call: Reads, page_size: PageSize = None, cursor: Cursor = None) -> Response:
    """From the highest id down; ids made here sort by time, so the newest come first."""
    with call.unit() as (uow, actor):
        return json_answer(
            page(
                filters="firm-schedules",
                size=page_size,
                cursor=cursor,
                load=lambda limit, before: list_schedules(uow, actor, limit=limit, before=before),
                view=schedule_item,
            )
        )


@router.get(
    "/{id}",
    operation_id="getFirmSchedule",
    summary="Watch a schedule of the firm",
    responses=found("FirmSchedule", "The schedule as it is now.") | faults(400, 401, 403, 404, 503),
)
async def get(call: Reads, id: RecordId, prefer: Prefer = None) -> Response:
    """Its state, and how far it is. `Prefer: wait=N` holds the answer until it is over."""
    return await SCHEDULES.looked_at(call, id=id)


@router.post(
    "/{id}/cancel",
    operation_id="cancelFirmSchedule",
    summary="Cancel a schedule of the firm",
    responses=found("FirmSchedule", "The schedule as it is now.", tag=False)
    | faults(400, 401, 403, 404, 503),
)
def cancel(call: Writes, id: RecordId) -> Response:
    """Ends the computation now. The record stays; one that is over already stays as it is."""
    with call.unit() as (uow, actor):
        schedule = cancel_schedule(uow, actor, id=id)
    return json_answer(schedule_view(schedule))


@router.get(
    "/{id}/plan",
    operation_id="getFirmPlan",
    summary="Read the firm's plan",
    responses=found("FirmAnswerAnswer", "The answer.") | faults(400, 401, 403, 404, 409, 503),
)
def get_plan(call: Reads, id: RecordId) -> Response:
    """Each visit with crew, people and machine, from when until when; lateness and paid minutes beside their
    bounds; what the late jobs, or the last one, wait for. Of a replan what moved, of a what-if what the job
    would do. 409 until it is computed."""
    with call.unit() as (uow, actor):
        return tagged(call, to_json(answer_view(get_answer(uow, actor, id=id))))


@router.get(
    "/{id}/gantt",
    operation_id="getFirmGantt",
    summary="Read the firm's plan as a chart",
    responses=found("GanttAnswer", "The chart.") | faults(400, 401, 403, 404, 409, 503),
)
def get_gantt(call: Reads, id: RecordId) -> Response:
    """A row for each crew and machine, a bar for each visit, a link for each wait, and the jobs with what
    they are promised for. 409 until it is computed, and for a what-if."""
    with call.unit() as (uow, actor):
        return tagged(call, to_json(gantt_view(get_answer(uow, actor, id=id))))


@router.get(
    "/{id}/calendar",
    operation_id="getFirmScheduleCalendar",
    summary="Read the firm's plan, or a crew's part, as a calendar",
    responses=calendar_answer("The visits as iCalendar.", tag=False) | faults(400, 401, 403, 404, 409, 503),
)
def get_calendar(call: Reads, id: RecordId, crew: CrewName = None) -> Response:
    """An event for each day of each visit; none for a crew that has no visit. An event has the uid that it
    has in crews' own calendars, and a SEQUENCE above that of every schedule posted or put in force before.
    409 until it is computed, and for a what-if."""
    with call.unit() as (uow, actor):
        text = read_schedule_calendar(uow, actor, id=id, crew=crew, now=call.state.clock.now())
    return Response(text, media_type=MEDIA_TYPE)


@router.post(
    "/{id}/publish",
    operation_id="publishFirmSchedule",
    summary="Put a schedule of the firm in force",
    status_code=201,
    responses=created("PublishedSchedule") | faults(400, 401, 403, 404, 409, 422, 503, 507),
)
def publish(call: Writes, id: RecordId, idempotency_key: IdempotencyKey = None) -> Response:
    """Crews' calendars show it from now on, in place of the one before."""

    def make(uow: UnitOfWork, actor: Actor) -> Answer:
        _, published = publish_schedule(uow, actor, id=id, now=call.state.clock.now())
        headers = {"location": f"{SCHEDULES.path}/{id}"}
        return Answer(status=201, body=to_json(published_view(published)), resource=id, headers=headers)

    return created_answer(call.once(make))


def _queue(uow: UnitOfWork, actor: Actor, call: Call, *, id: UUID | None, question: FirmQuestion) -> Answer:
    id = id or new_id()
    post_schedule(uow, actor, id=id, question=question, now=call.state.clock.now())
    view = schedule_view(get_schedule(uow, actor, id=id))
    headers = {"location": f"{SCHEDULES.path}/{id}", "retry-after": "1"}
    return Answer(status=202, body=to_json(view), resource=id, headers=headers)


async def _ask_again(call: Call, *, before: UUID, document: type[Asked], read: ReadAgain[Asked]) -> Response:
    """Queue a question about a plan that is there."""

    def make(uow: UnitOfWork, actor: Actor) -> Answer:
        posted, now = call.document(document), call.state.clock.now()
        answered = get_answer(uow, actor, id=before)
        question = read(uow, posted=posted, before=answered, now=now)
        return _queue(uow, actor, call, id=posted.id, question=question)

    return await SCHEDULES.posted(call, make)
