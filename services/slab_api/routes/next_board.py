"""Where the next board goes, for a crew that lays boards as they come."""

from dataclasses import asdict, dataclass
from typing import Annotated

import msgspec
from fastapi import APIRouter, Depends
from starlette.responses import Response

from slab_api.answers import json_answer
from slab_api.bodies.read import JSON
from slab_api.call import Call, Needs
from slab_api.contract import body, faults, found
from slab_api.intake.reader import Reader
from slab_api.parameters import RecordId
from slab_api.problems import ApiProblem, invalid
from slab_api.routes.results import Floor
from slab_api.schemas.next_board import NextBoardRequest
from slab_app.actions.estimates import get_result
from slab_core.layout.model import BoardRules, RowRun
from slab_core.layout.next_board import Board, next_board
from slab_core.layout.progress import LaidRun

router = APIRouter(prefix="/v1/estimates/{id}/layout", tags=["results"])

Asks = Annotated[Call, Depends(Needs(scope="estimates:read", body=(JSON,)))]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plan:
    """What a stored layout says of where boards may lie; the rest of it is not unpacked."""

    runs: tuple[RowRun, ...] = ()
    rules: BoardRules | None = None


@router.post(
    "/next-board",
    operation_id="askNextBoard",
    summary="Ask where the next board goes",
    responses=found("NextBoard", "The best place, or that the board is better set aside, and why.", tag=False)
    | faults(400, 401, 403, 404, 409, 413, 415, 422, 503),
    openapi_extra=body(NextBoardRequest),
)
def post(call: Asks, id: RecordId, floor: Floor = None) -> Response:
    """Boards as they come: for a board in hand and what lies so far, the best place in the rows that are
    open. Nothing is stored and no key for repeating is needed: the same question has the same answer, so that
    it may be sent again over a bad connection. 422 names the run or piece that contradicts the layout."""
    request = call.document(NextBoardRequest)
    board, laid, bundle_m = _read(request)
    with call.unit() as (uow, actor):
        result = get_result(uow, actor, id=id, stage="layout", subject=floor, alternate=None)
    plan = msgspec.json.decode(result.encoded.json, type=_Plan)
    if plan.rules is None:
        raise ApiProblem("not-found", "this layout is older than the question; post the estimate again")
    best = next_board(
        runs=plan.runs,
        rules=plan.rules,
        laid=laid,
        board=board,
        open_rows=request.open_rows,
        bundle_m=bundle_m,
    )
    return json_answer({"floor": result.subject, **asdict(best)})


def _read(request: NextBoardRequest) -> tuple[Board, list[LaidRun], tuple[float, ...]]:
    """Board, state and bundle in metres. Raises ApiProblem that names every length that is none."""
    reader = Reader(units=request.units)
    length = reader.positive(request.board.length, ("board", "length"))
    board = Board(length_m=length, whole_start=request.board.whole_start, whole_end=request.board.whole_end)
    laid = [
        LaidRun(
            row=part.row,
            run=part.run,
            lengths_m=tuple(
                reader.positive(value, ("laid", place, "lengths", i)) for i, value in enumerate(part.lengths)
            ),
        )
        for place, part in enumerate(request.laid)
    ]
    bundle_m = tuple(reader.positive(value, ("bundle", i)) for i, value in enumerate(request.bundle))
    if reader.faults:
        raise invalid(tuple(reader.faults))
    return board, laid, bundle_m
