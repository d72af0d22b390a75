"""Calendars that crews subscribe to: the office makes and closes links, and a link alone opens a calendar."""

from typing import Annotated

from fastapi import APIRouter, Depends, Path
from starlette.requests import Request
from starlette.responses import Response

from slab_api.answers import json_answer, to_json
from slab_api.bodies.read import JSON
from slab_api.call import Call, Needs
from slab_api.call import created as created_answer
from slab_api.contract import body, created, faults, found
from slab_api.contract_firm_schedules import calendar_answer
from slab_api.firm_views import crew_calendar_view
from slab_api.intake.crews import check_crew
from slab_api.parameters import IdempotencyKey
from slab_api.problems import ApiProblem
from slab_api.schemas.firm_schedules import CrewCalendarCreate
from slab_api.state import state_of
from slab_app.actions.crew_calendars import (
    add_crew_calendar,
    get_crew_calendar,
    list_crew_calendars,
    read_crew_calendar,
    withdraw_crew_calendar,
)
from slab_app.actions.once import Answer
from slab_app.actor import Actor
from slab_app.calendar_text import MEDIA_TYPE
from slab_app.keys import CREW, parse_key
from slab_base.ids import new_id
from slab_store.unit_of_work import UnitOfWork

router = APIRouter(prefix="/v1", tags=["crew-calendars"])
feeds = APIRouter(prefix="/v1/crew-feeds", tags=["crew-feeds"])

Reads = Annotated[Call, Depends(Needs(scope="schedules:read"))]
Writes = Annotated[Call, Depends(Needs(scope="schedules:write"))]
Posts = Annotated[Call, Depends(Needs(scope="schedules:write", body=(JSON,)))]
CalendarId = Annotated[str, Path(max_length=64, description="Id of the calendar.")]
Link = Annotated[
    str,
    Path(
        description="The crew's link: `crew_<organisation and calendar>_<secret>_<checksum>`.", max_length=200
    ),
]

MOST_LISTED = 200


@router.post(
    "/crew-calendars",
    operation_id="postCrewCalendar",
    summary="Make a link for a crew to subscribe to",
    status_code=201,
    responses=created("NewCrewCalendar") | faults(400, 401, 403, 409, 413, 415, 422, 503, 507),
    openapi_extra=body(CrewCalendarCreate),
)
def post(call: Posts, idempotency_key: IdempotencyKey = None) -> Response:
    """Under the link the crew's part of the schedule in force is read as a calendar, without a key. The
    service keeps the link only with this request's Idempotency-Key. A crew that neither the firm's list nor
    a newer schedule has is refused, once there are any."""

    def make(uow: UnitOfWork, actor: Actor) -> Answer:
        crew = call.document(CrewCalendarCreate).crew
        check_crew(uow, actor, crew)
        made, key = add_crew_calendar(uow, actor, crew=crew, now=call.state.clock.now())
        view = {"calendar": crew_calendar_view(made), "link": f"/v1/crew-feeds/{key.text()}"}
        headers = {"location": f"/v1/crew-calendars/{made.id}"}
        return Answer(status=201, body=to_json(view), resource=new_id(), headers=headers)

    return created_answer(call.once(make))


@router.get(
    "/crew-calendars",
    operation_id="listCrewCalendars",
    summary="List crews' calendars",
    responses=found("CrewCalendarList", "The newest first.", tag=False) | faults(400, 401, 403, 503),
)
def list_all(call: Reads) -> Response:
    """Closed ones too, without the links themselves."""
    with call.unit() as (uow, actor):
        calendars = list_crew_calendars(uow, actor, limit=MOST_LISTED)
    return json_answer({"items": [crew_calendar_view(one) for one in calendars], "next": None})


@router.get(
    "/crew-calendars/{id}",
    operation_id="getCrewCalendar",
    summary="Read the record of a crew's calendar",
    responses=found("CrewCalendar", tag=False) | faults(400, 401, 403, 404, 503),
)
def get(call: Reads, id: CalendarId) -> Response:
    """Whose it is, and whether it is closed; never the link itself."""
    with call.unit() as (uow, actor):
        return json_answer(crew_calendar_view(get_crew_calendar(uow, actor, id=id)))


@router.post(
    "/crew-calendars/{id}/withdraw",
    operation_id="withdrawCrewCalendar",
    summary="Close a crew's link",
    responses=found("CrewCalendar", "It is closed.", tag=False) | faults(400, 401, 403, 404, 503),
)
def withdraw(call: Writes, id: CalendarId) -> Response:
    """For good: whoever has the link reads nothing any more. One that is closed stays as it is."""
    with call.unit() as (uow, actor):
        closed = withdraw_crew_calendar(uow, actor, id=id, now=call.state.clock.now())
    return json_answer(crew_calendar_view(closed))


@feeds.get(
    "/{link}",
    operation_id="getCrewFeed",
    summary="Read a crew's calendar",
    responses=calendar_answer("The crew's part of the schedule in force as iCalendar.", tag=False)
    | faults(400, 404, 503),
)
def read(request: Request, link: Link) -> Response:
    """No key is asked for: the link is all the leave that is needed. Without a schedule in force there are no
    events."""
    key = parse_key(link, prefix=CREW)
    if key is None:
        raise ApiProblem(
            "not-found", "this is not a whole link to a calendar: copy it again, to its last letter"
        )
    state = state_of(request)
    with state.database.for_organisation(key.organisation) as uow:
        text = read_crew_calendar(uow, key=key, now=state.clock.now())
    return Response(text, media_type=MEDIA_TYPE)
