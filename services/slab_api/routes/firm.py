"""The firm's own books: price books, catalogues, rates, calendars, crews. A post makes a new version."""

from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Depends
from starlette.responses import Response

from slab_api.answers import json_answer, to_json
from slab_api.bodies.read import JSON, media_type
from slab_api.bodies.table import CSV
from slab_api.call import Call, Needs, tagged
from slab_api.call import created as created_answer
from slab_api.contract import body, created, faults, found, listed
from slab_api.intake.crews import check_crews
from slab_api.intake.firm import check_currency, check_document, check_said_once, merged, starter_document
from slab_api.intake.firm_tables import COLUMNS, at_rows, read_firm_table
from slab_api.intake.product_rows import check_products
from slab_api.intake.records import to_document
from slab_api.lists import page
from slab_api.parameters import Cursor, IdempotencyKey, PageSize, RecordId
from slab_api.problems import ApiProblem
from slab_api.schemas.firm import POSTS, FirmPost
from slab_api.views import firm_view
from slab_app.actions.firm_versions import add_version, get_version, list_versions, newest_version
from slab_app.actions.once import Answer
from slab_app.actor import Actor
from slab_base.ids import new_id
from slab_store.firm_versions import FirmKind
from slab_store.unit_of_work import UnitOfWork

router = APIRouter(prefix="/v1", tags=["firm"])

Reads = Annotated[Call, Depends(Needs(scope="firm:read"))]

PATHS: dict[FirmKind, tuple[str, str, str]] = {
    "price-book": ("price-books", "PriceBook", "price book"),
    "catalogue": ("catalogues", "Catalogue", "catalogue"),
    "rates": ("rates", "Rates", "rates"),
    "calendar": ("calendars", "Calendar", "calendar"),
    "crews": ("crews", "Crews", "crews"),
}
"""Path, name in operation ids and words for each kind."""


def _add(kind: FirmKind) -> None:
    path, name, words = PATHS[kind]
    shape = POSTS[kind]

    @router.post(
        f"/{path}",
        operation_id=f"post{name}",
        summary=f"Make a new version: {words}",
        status_code=201,
        responses=created(f"{name}Version") | faults(400, 401, 403, 409, 413, 415, 422, 503, 507),
        openapi_extra=body(shape, kinds=_table_body(kind)),
    )
    def post(
        call: Annotated[Call, Depends(_writes(kind))], idempotency_key: IdempotencyKey = None
    ) -> Response:
        """What the document does not say is taken from the newest version, or from the starter values. A
        version never changes; estimates name the one they used."""

        def make(uow: UnitOfWork, actor: Actor) -> Answer:
            if media_type(call.request) == CSV:
                return _make_from_table(uow, actor, kind=kind, path=path, call=call)
            return _make(uow, actor, kind=kind, path=path, posted=call.document(shape))

        return created_answer(call.once(make))

    @router.get(
        f"/{path}",
        operation_id=f"list{name}Versions",
        summary=f"List versions: {words}",
        responses=listed(f"{name}Version") | faults(400, 401, 403, 503),
    )
    def get_list(call: Reads, page_size: PageSize = None, cursor: Cursor = None) -> Response:
        """From the highest id down; ids made here sort by time, so the newest come first."""
        with call.unit() as (uow, actor):
            return json_answer(
                page(
                    filters=path,
                    size=page_size,
                    cursor=cursor,
                    load=lambda limit, before: list_versions(
                        uow, actor, kind=kind, limit=limit, before=before
                    ),
                    view=firm_view,
                )
            )

    @router.get(
        f"/{path}/{{id}}",
        operation_id=f"get{name}Version",
        summary=f"Read one version: {words}",
        responses=found(f"{name}Version") | faults(400, 401, 403, 404, 503),
    )
    def get_one(call: Reads, id: RecordId) -> Response:
        """The whole document of the version."""
        with call.unit() as (uow, actor):
            version = get_version(uow, actor, kind=kind, id=id)
        return tagged(call, to_json(firm_view(version)))


def _writes(kind: FirmKind) -> Needs:
    return Needs(scope="firm:write", body=(JSON, CSV) if kind in COLUMNS else (JSON,))


def _table_body(kind: FirmKind) -> dict[str, Any]:
    """The body as a table, for the kinds that come as one."""
    if kind not in COLUMNS:
        return {}
    text = (
        f"A table with a heading of {', '.join(COLUMNS[kind])}, separated by comma, semicolon or tab, in "
        "UTF-8. Wrong cells are named by the line in the file and the column: /rows/7/amount."
    )
    return {CSV: {"schema": {"type": "string", "description": text}}}


def _make_from_table(uow: UnitOfWork, actor: Actor, *, kind: FirmKind, path: str, call: Call) -> Answer:
    posted, rows = read_firm_table(kind, call.body, deepest=call.state.settings.max_json_depth)
    try:
        return _make(uow, actor, kind=kind, path=path, posted=posted)
    except ApiProblem as problem:
        raise at_rows(problem, kind=kind, rows=rows) if problem.faults else problem from None


def _make(uow: UnitOfWork, actor: Actor, *, kind: FirmKind, path: str, posted: FirmPost) -> Answer:
    changes = to_document(posted)
    check_currency(changes.get("currency"))
    check_said_once(changes)
    document = merged(_base(uow, actor, kind=kind, posted=posted, changes=changes), changes)
    if kind == "crews":
        check_crews(uow, document)
    else:
        check_document(kind, document, posted=changes)
    if kind == "catalogue":
        check_products(document, posted=changes)
    version = add_version(
        uow,
        actor,
        id=posted.id or new_id(),
        kind=kind,
        document=document,
        valid_from=_day(document.get("valid_from")),
        valid_to=_day(document.get("valid_to")),
    )
    headers = {"location": f"/v1/{path}/{version.id}"}
    return Answer(status=201, body=to_json(firm_view(version)), resource=version.id, headers=headers)


def _base(
    uow: UnitOfWork, actor: Actor, *, kind: FirmKind, posted: FirmPost, changes: dict[str, Any]
) -> dict[str, Any]:
    """What counts where the document says nothing. Prices in another currency are no base for a new one."""
    newest = newest_version(uow, actor, kind=kind) if posted.based_on == "newest" else None
    currency = changes.get("currency")
    if newest is not None and currency in (None, newest.document.get("currency")):
        return newest.document
    return starter_document(kind, currency=currency or "USD", time_zone=changes.get("time_zone") or "UTC")


def _day(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)


for _kind in PATHS:
    _add(_kind)
