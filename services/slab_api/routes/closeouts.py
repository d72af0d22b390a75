"""What jobs really took, and what the firm may learn from it."""

from typing import Annotated, Any

import msgspec
from fastapi import APIRouter, Depends, Query
from starlette.responses import Response

from slab_api.answers import json_answer, to_json
from slab_api.bodies.read import JSON
from slab_api.call import Call, Needs, tagged
from slab_api.call import created as created_answer
from slab_api.contract import body, created, faults, found
from slab_api.intake.firm import as_model, starter_rates
from slab_api.intake.stock import check_left_over, newest_catalogue
from slab_api.parameters import IdempotencyKey, RecordId
from slab_api.schemas.quotes import CloseoutCreate
from slab_api.schemas.stock import LeftOverDocument, thousandths
from slab_app.actions.closeouts import (
    LearnedRates,
    add_closeout,
    get_closeout,
    job_materials,
    learned_rates,
    work_lines,
)
from slab_app.actions.firm_versions import newest_version
from slab_app.actions.left_over import LeftOver
from slab_app.actions.once import Answer
from slab_app.actor import Actor
from slab_app.plain import moment
from slab_base.ids import new_id
from slab_core.closeout.model import Actual
from slab_core.materials.rates_model import Rates
from slab_store.closeouts import CloseoutRecord
from slab_store.unit_of_work import UnitOfWork

router = APIRouter(prefix="/v1", tags=["closeouts"])

Reads = Annotated[Call, Depends(Needs(scope="closeouts:read"))]
Writes = Annotated[Call, Depends(Needs(scope="closeouts:write", body=(JSON,)))]
Crew = Annotated[
    str | None,
    Query(
        max_length=64,
        description="Only jobs of this crew; figures of materials and slabs are proposed from all.",
    ),
]


@router.get(
    "/quotes/{id}/work-lines",
    operation_id="getWorkLines",
    summary="What a crew can tell of a job",
    responses=found("WorkLines", "The lines, without money.", tag=False)
    | faults(400, 401, 403, 404, 409, 503),
)
def get_work_lines(call: Reads, id: RecordId) -> Response:
    """Hours of people and machines, bags of compound, and packages of primer and adhesive with parts of them,
    as they were quoted; a closeout names lines by these keys, and what is left by these materials."""
    with call.unit() as (uow, actor):
        lines = work_lines(uow, actor, quote=id)
        materials = job_materials(uow, actor, quote=id)
    return json_answer({"lines": msgspec.to_builtins(lines), "materials": msgspec.to_builtins(materials)})


@router.post(
    "/quotes/{id}/closeouts",
    operation_id="postCloseout",
    summary="Tell what a job took",
    status_code=201,
    responses=created("Closeout") | faults(400, 401, 403, 404, 409, 413, 415, 422, 503, 507),
    openapi_extra=body(CloseoutCreate),
)
def post_closeout(call: Writes, id: RecordId, idempotency_key: IdempotencyKey = None) -> Response:
    """Compared with the accepted quote line by line. Entries that no job explains are kept and marked, and
    count for nothing in what is learned."""

    def make(uow: UnitOfWork, actor: Actor) -> Answer:
        told = call.document(CloseoutCreate)
        products = tuple(one.product for one in job_materials(uow, actor, quote=id))
        check_left_over(told.left_over or (), products=products)
        closeout = add_closeout(
            uow,
            actor,
            id=told.id or new_id(),
            quote=id,
            crew=told.crew,
            finished_on=told.finished_on,
            actuals=tuple(Actual(key=one.key, quantity=one.quantity) for one in told.actuals),
            left_over=None if told.left_over is None else tuple(map(_left_over, told.left_over)),
        )
        headers = {"location": f"/v1/closeouts/{closeout.id}"}
        return Answer(status=201, body=to_json(_view(closeout)), resource=closeout.id, headers=headers)

    return created_answer(call.once(make))


@router.get(
    "/closeouts/{id}",
    operation_id="getCloseout",
    summary="Read a closeout",
    responses=found("Closeout") | faults(400, 401, 403, 404, 503),
)
def get_one_closeout(call: Reads, id: RecordId) -> Response:
    """What was told, and how it compares."""
    with call.unit() as (uow, actor):
        closeout = get_closeout(uow, actor, id=id)
    return tagged(call, to_json(_view(closeout)))


@router.get(
    "/learned-rates",
    operation_id="getLearnedRates",
    summary="What closed jobs say of the firm's figures",
    responses=found("LearnedRates", "As of now.", tag=False) | faults(400, 401, 403, 503),
)
def get_learned_rates(call: Reads, crew: Crew = None) -> Response:
    """Each kind of work with its factor, actual over estimated, and the figures that would foretell it."""
    with call.unit() as (uow, actor):
        learned = learned_rates(
            uow, actor, crew=crew, rates=_rates(uow, actor), catalogue=newest_catalogue(uow, actor)
        )
    return json_answer({"crew": crew, **_learned_view(learned)})


def _learned_view(learned: LearnedRates) -> dict[str, Any]:
    catalogue: dict[str, dict[str, float]] = {}
    for proposal in learned.catalogue:
        product, _, field = proposal.field.partition(".")
        catalogue.setdefault(product, {})[field] = proposal.after
    return {
        "jobs": learned.jobs,
        "learned": msgspec.to_builtins(learned.learned),
        "proposed": msgspec.to_builtins((*learned.rates, *learned.catalogue)),
        "slabs": msgspec.to_builtins(learned.slabs),
        "rates": {
            **{proposal.field: proposal.after for proposal in learned.rates},
            **({"slab_kinds": msgspec.to_builtins(learned.slab_kinds)} if learned.slabs else {}),
        },
        "catalogue": catalogue,
    }


def _left_over(told: LeftOverDocument) -> LeftOver:
    return LeftOver(
        product=told.product,
        packages=told.packages,
        opened_thousandths=thousandths(told.opened),
        use_by=told.use_by,
    )


def _view(closeout: CloseoutRecord) -> dict[str, Any]:
    return {
        "id": str(closeout.id),
        "quote_id": str(closeout.quote),
        "crew": closeout.crew,
        "finished_on": closeout.finished_on.isoformat(),
        "created_at": moment(closeout.created_at),
        "created_by": closeout.created_by,
        "slab": None,
        "left_over": None,
        **closeout.document,
        "links": {"self": f"/v1/closeouts/{closeout.id}", "quote": f"/v1/quotes/{closeout.quote}"},
    }


def _rates(uow: UnitOfWork, actor: Actor) -> Rates:
    newest = newest_version(uow, actor, kind="rates")
    if newest is None:
        return starter_rates()
    model = as_model("rates", newest.document, version=str(newest.id))
    assert isinstance(model, Rates)
    return model
