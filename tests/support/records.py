"""One record of every kind of a firm, made over HTTP."""

from datetime import date
from decimal import Decimal
from typing import Any
from uuid import UUID, uuid4

from slab_app.actions.firm_schedules import post_schedule
from slab_app.actor import Actor
from slab_base.clock import now_utc
from slab_base.ids import new_id
from slab_core.schedule.firm.asked import FirmQuestion
from tests.support.api import Firm, Service, valid_job

SCAN_FILE = b"1 1 0.001\n2 1 0.002\n"
"""Two points of a scan, as text."""


def job_record(**changes: Any) -> dict[str, Any]:
    """The part of a valid job that is a record of its own."""
    job = valid_job()
    return {**{name: job[name] for name in ("name", "units", "benchmarks", "tolerance")}, **changes}


def room_record(**changes: Any) -> dict[str, Any]:
    """The room of a valid job as a record of its own."""
    room = {name: value for name, value in valid_job()["rooms"][0].items() if name != "id"}
    return {**room, **changes}


def survey_record(**changes: Any) -> dict[str, Any]:
    """The survey of a valid job as a record of its own."""
    survey = {name: value for name, value in valid_job()["surveys"][0].items() if name != "id"}
    return {**survey, **changes}


def one_of_each(service: Service, firm: Firm) -> dict[str, str]:
    """Ids of one record of every kind, by the word that stands before the id in its path."""
    made = {"jobs": _id(firm, "/v1/jobs", job_record())}
    made["rooms"] = _id(firm, f"/v1/jobs/{made['jobs']}/rooms", room_record())
    made["surveys"] = _id(firm, f"/v1/jobs/{made['jobs']}/surveys", survey_record())
    made["scans"] = str(uuid4())
    path = f"/v1/surveys/{made['surveys']}/scans/{made['scans']}"
    sent = firm.client.put(path, content=SCAN_FILE, headers={"content-type": "application/octet-stream"})
    assert sent.status_code == 200, sent.text
    made["estimates"] = _id(firm, "/v1/estimates", valid_job())
    for kind in ("price-books", "catalogues", "rates", "calendars"):
        made[kind] = _id(firm, f"/v1/{kind}", {})
    crew = {"id": "north", "people": 4, "skills": ["slab", "wood"]}
    made["crews"] = _id(firm, "/v1/crews", {"crews": [crew]})
    made["stock"] = _id(firm, "/v1/stock", {"product": "patch", "packages": 1})
    quote = add_quote(service, firm, run=UUID(made["estimates"]))
    made["quotes"] = str(quote)
    made |= _add_firm_schedule(service, firm)
    made["closeouts"] = str(_add_closeout(service, firm, quote=quote))
    made["change-orders"] = str(_add_change_order(service, firm, run=UUID(made["estimates"]), of_quote=quote))
    return made


def add_quote(service: Service, firm: Firm, *, run: UUID, alternate: str = "plane") -> UUID:
    """A quote as a worker writes it."""
    id_ = new_id()
    with service.database.for_organisation(firm.organisation) as uow:
        added = uow.quotes.add(
            id=id_,
            run=run,
            job_id=None,
            alternate=alternate,
            currency="USD",
            total=Decimal("1234.50"),
            document=b'{"schema":1}',
            actor="worker",
            trace_id="",
        )
        assert added
        uow.commit()
    return id_


def _add_change_order(service: Service, firm: Firm, *, run: UUID, of_quote: UUID) -> UUID:
    id_, to_quote = new_id(), add_quote(service, firm, run=run, alternate="level")
    with service.database.for_organisation(firm.organisation) as uow:
        uow.change_orders.add(
            id=id_,
            of_quote=of_quote,
            to_quote=to_quote,
            currency="USD",
            total=Decimal("20.00"),
            document=b'{"schema":1}',
            actor="office",
            trace_id="",
        )
        uow.commit()
    return id_


def _add_firm_schedule(service: Service, firm: Firm) -> dict[str, str]:
    """A schedule as a worker leaves it, and a crew's link."""
    id_ = new_id()
    question = FirmQuestion(
        ask="plan", crews=(), machines=(), sites=(), jobs=(), ways=(), now_minute=0, seconds=0.0
    )
    with service.database.for_organisation(firm.organisation) as uow:
        actor = Actor(
            organisation=firm.organisation, key_id="", role="office", scopes=frozenset(), trace_id=""
        )
        post_schedule(uow, actor, id=id_, question=question, now=now_utc())
        uow.commit()
    crew = firm.post("/v1/crew-calendars", {"crew": "north"})
    return {"firm-schedules": str(id_), "crew-calendars": crew.json()["calendar"]["id"]}


def _add_closeout(service: Service, firm: Firm, *, quote: UUID) -> UUID:
    id_ = new_id()
    with service.database.for_organisation(firm.organisation) as uow:
        uow.closeouts.add(
            id=id_,
            quote=quote,
            crew="north",
            finished_on=date(2026, 3, 20),
            document={"actuals": [], "comparison": {}},
            evidence=[],
            actor="office",
            trace_id="",
        )
        uow.commit()
    return id_


def _id(firm: Firm, path: str, body: dict[str, Any]) -> str:
    answer = firm.post(path, body)
    assert answer.status_code in (201, 202), answer.text
    made: str = answer.json()["id"]
    return made
