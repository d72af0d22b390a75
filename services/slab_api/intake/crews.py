"""The firm's stored crews and machines: what a version says, and every fault of it at its place."""

from collections.abc import Mapping
from typing import Any

from slab_api.bodies.documents import stored_document
from slab_api.intake.firm_means import MeansReader
from slab_api.problems import invalid
from slab_api.schemas.firm import CrewsPost
from slab_app.actions.firm_schedules import find_question, list_schedules
from slab_app.actor import Actor
from slab_app.errors import Fault
from slab_core.errors import InputRefused
from slab_core.schedule.firm.check import check_firm
from slab_core.schedule.firm.model import Firm
from slab_store.unit_of_work import UnitOfWork

NOBODY = CrewsPost(crews=(), machines=())

LOOKED_AT = 10
"""The newest schedules, whose crews are known too."""


def newest_crews(uow: UnitOfWork) -> CrewsPost:
    """The version made last; nobody for a firm that has made none."""
    found = uow.firm_versions.last(kind="crews")
    return NOBODY if found is None else stored_document(CrewsPost, found.document)


def check_crew(uow: UnitOfWork, actor: Actor, crew: str) -> None:
    """Raises ApiProblem for a crew that neither the firm's list nor the schedule in force nor one of the
    newest has; while there are none, nobody can tell."""
    runs = [run.id for run in list_schedules(uow, actor, limit=LOOKED_AT, before=None)]
    runs += [published.run for published in uow.published_schedules.newest(limit=1)]
    questions = (find_question(uow, actor, id=run) for run in runs)
    known = {one.id for question in questions if question is not None for one in question.crews}
    known |= {one.id for one in newest_crews(uow).crews or ()}
    if known and crew not in known:
        there = ", ".join(sorted(known))
        detail = f"there is no crew {crew!r} in the firm's list or its schedules; there are {there}"
        raise invalid((Fault(detail=detail, pointer="/crew"),))


def check_crews(uow: UnitOfWork, document: Mapping[str, Any]) -> None:
    """Raises ApiProblem that names every crew and machine of a merged document that cannot be."""
    said = stored_document(CrewsPost, document)
    reader = MeansReader(uow=uow, time_zone="UTC")
    crews, machines = reader.crews(said.crews or ()), reader.machines(said.machines or ())
    faults = list(reader.faults)
    if not crews:
        faults.append(Fault(detail="a firm has at least one crew; list it", pointer="/crews"))
    try:
        if not faults:
            check_firm(Firm(crews=crews, machines=machines, sites=(), jobs=(), travel={}))
    except InputRefused as refused:
        faults += [Fault(detail=problem.detail, pointer=problem.pointer) for problem in refused.problems]
    if faults:
        raise invalid(tuple(faults))
