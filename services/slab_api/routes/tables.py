"""Results as tables for spreadsheets."""

from typing import Any

from fastapi import APIRouter
from starlette.responses import Response

from slab_api.bodies.table import CSV
from slab_api.conditional import is_unchanged
from slab_api.contract import faults, table_answer
from slab_api.parameters import RecordId
from slab_api.results.tables import TABLES, Table, table_csv
from slab_api.routes.results import Alternate, Floor, Reads
from slab_app.actions.estimates import get_result

router = APIRouter(prefix="/v1/estimates/{id}", tags=["results"])


def _answer(call: Reads, table: Table, *, id: Any, alternate: str | None, floor: str | None) -> Response:
    with call.unit() as (uow, actor):
        result = get_result(uow, actor, id=id, stage=table.stage.name, subject=floor, alternate=alternate)
    headers = {
        "etag": f'"{result.digest.hex()[:32]}-{table.name}"',
        "content-disposition": f'attachment; filename="{table.name}.csv"',
    }
    if is_unchanged(call.request.headers, tag=headers["etag"]):
        return Response(status_code=304, headers=headers)
    return Response(table_csv(table, result), headers=headers, media_type=CSV)


def _add(table: Table) -> None:
    if table.stage.subject == "floor":

        def get(call: Reads, id: RecordId, floor: Floor = None, alternate: Alternate = None) -> Response:
            return _answer(call, table, id=id, alternate=alternate, floor=floor)

    else:

        def get(call: Reads, id: RecordId, alternate: Alternate = None) -> Response:  # type: ignore[misc]  # one of two by stage
            return _answer(call, table, id=id, alternate=alternate, floor=None)

    router.get(
        f"/{table.stage.name}/{table.name}.csv",
        operation_id=table.operation,
        summary=table.summary,
        description=(
            "Comma-separated, UTF-8, with the units in the heading. Text that a spreadsheet would run as a "
            f"formula has an apostrophe in front. 409 until the {table.stage.name} has been computed."
        ),
        responses=table_answer(table.heading) | faults(400, 401, 403, 404, 409, 503),
    )(get)


for _table in TABLES:
    _add(_table)
