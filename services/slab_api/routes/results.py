"""Results: what each stage of an estimate found."""

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Header, Query
from starlette.responses import Response

from slab_api.bodies.read import ARROW, JSON
from slab_api.call import Call, Needs
from slab_api.conditional import is_unchanged
from slab_api.contract import faults, result_answer
from slab_api.contract_firm_schedules import calendar_answer
from slab_api.parameters import RecordId
from slab_api.results.columns import GRIDDED, result_columns
from slab_api.results.views import result_json, stored_grid
from slab_api.routes.accept import preferred
from slab_app.actions.estimates import StageResult, get_result
from slab_app.actions.job_calendar import job_calendar
from slab_app.actor import Actor
from slab_app.calendar_text import MEDIA_TYPE
from slab_core.numerics.grid import Grid
from slab_core.stages import STAGES, Stage
from slab_store.unit_of_work import UnitOfWork

router = APIRouter(prefix="/v1/estimates/{id}", tags=["results"])

Reads = Annotated[Call, Depends(Needs(scope="estimates:read"))]
Floor = Annotated[str | None, Query(max_length=64, description="Id of the floor; else the first one's.")]
ScanName = Annotated[str | None, Query(max_length=64, description="Id of the scan; else the first one's.")]
Alternate = Annotated[
    str | None, Query(max_length=64, description="Name of the alternate; else the first one's.")
]
Accept = Annotated[
    str | None,
    Header(alias="Accept", description=f"`{JSON}`, or `{ARROW}` for every node of the grid as columns."),
]

_SUMMARIES = {
    "rooms": "Floors that the rooms join into",
    "scans": "What a scan shows of each floor",
    "surveys": "How the setups of the level and the scans tie together",
    "surface": "Heights of the slab with their standard errors",
    "tolerance": "Where the floor fails, and by how much",
    "correction": "What to grind and fill",
    "layout": "How the boards lie",
    "takeoff": "What to buy and do",
    "schedule": "When it is done",
    "quote": "What it costs",
}


def _answer(
    call: Call, *, stage: Stage, id: Any, subject: str | None = None, alternate: str | None = None
) -> Response:
    forms = (JSON, ARROW) if stage.name in GRIDDED else (JSON,)
    form = preferred(call.request.headers.get("accept", "*/*"), offered=forms)
    with call.unit() as (uow, actor):
        result = get_result(uow, actor, id=id, stage=stage.name, subject=subject, alternate=alternate)
        grid = _grid(uow, actor, result=result, id=id)
    tag = f'"{result.digest.hex()[:32]}-{"a" if form == ARROW else "j"}"'
    headers = {"etag": tag, "vary": "accept"}
    if is_unchanged(call.request.headers, tag=tag):
        return Response(status_code=304, headers=headers)
    body = result_columns(result, grid=grid) if form == ARROW else result_json(result, grid=grid)
    return Response(body, headers=headers, media_type=form)


def _grid(uow: UnitOfWork, actor: Actor, *, result: StageResult, id: Any) -> Grid | None:
    """A tolerance report is drawn on the grid of its floor's surface."""
    if result.stage != "tolerance":
        return None
    surface = get_result(uow, actor, id=id, stage="surface", subject=result.subject, alternate=None)
    return stored_grid(surface)


def _add(stage: Stage) -> None:
    """One route a stage, with the parameters that the stage has."""
    if stage.subject == "floor" and stage.by_alternate:

        def get(
            call: Reads, id: RecordId, floor: Floor = None, alternate: Alternate = None, accept: Accept = None
        ) -> Response:
            return _answer(call, stage=stage, id=id, subject=floor, alternate=alternate)

    elif stage.subject == "floor":

        def get(call: Reads, id: RecordId, floor: Floor = None, accept: Accept = None) -> Response:  # type: ignore[misc]  # one of four by stage
            return _answer(call, stage=stage, id=id, subject=floor)

    elif stage.subject == "scan":

        def get(call: Reads, id: RecordId, scan: ScanName = None) -> Response:  # type: ignore[misc]  # one of four by stage
            return _answer(call, stage=stage, id=id, subject=scan)

    elif stage.by_alternate:

        def get(call: Reads, id: RecordId, alternate: Alternate = None) -> Response:  # type: ignore[misc]  # one of four by stage
            return _answer(call, stage=stage, id=id, alternate=alternate)

    else:

        def get(call: Reads, id: RecordId) -> Response:  # type: ignore[misc]  # one of four by stage
            return _answer(call, stage=stage, id=id)

    router.get(
        f"/{stage.name}",
        operation_id=f"get{stage.name.capitalize()}Result",
        summary=_SUMMARIES[stage.name],
        description=(
            "The stage's result. Grids are thinned until the answer has at most 1 MiB; `nodes` says where "
            "the given nodes lie. 409 until the stage has been computed."
        ),
        responses=result_answer(stage.name, gridded=stage.name in GRIDDED)
        | faults(400, 401, 403, 404, 406, 409, 503),
    )(get)


for _stage in STAGES:
    _add(_stage)


@router.get(
    "/schedule/calendar",
    operation_id="getScheduleCalendar",
    summary="When it is done, as a calendar",
    responses=calendar_answer("The schedule as iCalendar.", tag=False) | faults(400, 401, 403, 404, 409, 503),
)
def get_schedule_calendar(call: Reads, id: RecordId, alternate: Alternate = None) -> Response:
    """An event for each day of each piece of work, for the customer's calendar or the crew's. 409 until the
    schedule has been computed."""
    with call.unit() as (uow, actor):
        text = job_calendar(uow, actor, id=id, alternate=alternate, now=call.state.clock.now())
    return Response(text, media_type=MEDIA_TYPE)
