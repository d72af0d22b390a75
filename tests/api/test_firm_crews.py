"""The firm's own crews and machines: versions that count wherever a schedule lists none."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from tests.support.api import Firm, Service, valid_job
from tests.support.own_worker import OwnWorker
from tests.support.problems import pointers_of

OPTIONS = {"seed": 1, "pricing_date": "2026-03-02", "earliest_start": "2026-03-03T08:00:00-07:00"}
LAST_DAY = {"valid_until": (datetime.now(UTC) + timedelta(days=20)).date().isoformat()}
NORTH: dict[str, Any] = {"id": "north", "people": 4, "skills": ["slab", "wood"]}
GRINDER = {"id": "grinder 1", "kind": "floor-grinder"}
AWAY = {"from": "2026-03-30", "to": "2026-04-05"}


@pytest.fixture(scope="module")
def quote(service: Service, owner: Firm, worker: OwnWorker) -> str:
    """An accepted quote."""
    estimate = owner.post("/v1/estimates", valid_job(options=OPTIONS)).headers["location"]
    worker.work_off()
    (quote,) = owner.client.get(estimate).json()["quotes"]
    sent = owner.post(f"/v1/quotes/{quote['id']}/send", LAST_DAY).json()
    service.client().post(f"{sent['link']}/accept", json={"name": "R. Amsel"}).raise_for_status()
    return str(quote["id"])


def _plan(firm: Firm, worker: OwnWorker, quote: str, **changes: Any) -> dict[str, Any]:
    body = {"from": "2026-03-30T06:00:00+00:00", "seconds": 0.1, "jobs": [{"quote": quote}], **changes}
    answer = firm.post("/v1/firm-schedules", body)
    assert answer.status_code == 202, answer.text
    worker.work_off()
    found = firm.client.get(f"{answer.headers['location']}/plan").raise_for_status().json()
    plan: dict[str, Any] = found["result"]["plan"]
    return plan


def test_a_schedule_that_lists_nobody_is_planned_with_the_newest_crews_of_the_firm(
    owner: Firm, worker: OwnWorker, quote: str
) -> None:
    lone = {"from": "2026-03-30T06:00:00+00:00", "jobs": [{"quote": quote}]}
    refused = owner.post("/v1/firm-schedules", lone)
    assert pointers_of(refused) == ["/crews"]
    assert "post the firm's crews" in refused.text
    owner.post("/v1/crews", {"crews": [{**NORTH, "id": "first"}]})
    sunday = owner.post(
        "/v1/calendars",
        {"time_zone": "America/Denver", "shifts": [{"weekday": "sunday", "from": "08:00", "to": "18:00"}]},
    ).json()["id"]
    crew = {**NORTH, "calendar": sunday, "absences": [AWAY]}
    made = owner.post("/v1/crews", {"crews": [crew], "machines": [GRINDER]})
    assert made.status_code == 201, made.text
    visits = _plan(owner, worker, quote)["visits"]
    assert {visit["crew"] for visit in visits} == {"north"}
    assert "grinder 1" in {visit["machine"] for visit in visits}
    # Nobody is there before the Sunday after the absence, the 12th of April.
    assert min(visit["start_at"] for visit in visits).startswith("2026-04-12")
    other = _plan(owner, worker, quote, crews=[{**NORTH, "id": "hired"}])["visits"]
    assert {visit["crew"] for visit in other} == {"hired"}
    assert "grinder 1" in {visit["machine"] for visit in other}


def test_a_crew_sets_out_from_a_home_of_its_own_that_ways_lead_to(
    owner: Firm, worker: OwnWorker, quote: str
) -> None:
    monday = owner.post(
        "/v1/calendars",
        {"time_zone": "America/Denver", "shifts": [{"weekday": "monday", "from": "08:00", "to": "18:00"}]},
    ).json()["id"]
    crew = {**NORTH, "calendar": monday}
    crews = [{**crew, "home": "mill lane"}]
    lone = {"from": "2026-03-30T06:00:00+00:00", "crews": crews, "jobs": [{"quote": quote}]}
    refused = owner.post("/v1/firm-schedules", lone)
    assert pointers_of(refused) == ["/travel"]
    assert "'mill lane'" in refused.text
    far = _plan(owner, worker, quote, crews=crews, travel=[{"from": "mill lane", "minutes": 40}])
    near = _plan(owner, worker, quote, crews=[crew])
    begins = [min(visit["start_at"] for visit in plan["visits"]) for plan in (near, far)]
    # The job is at the yard, where others begin at eight.
    assert begins == ["2026-03-30T14:00:00Z", "2026-03-30T14:40:00Z"]
    assert near["travel_minutes"] == 0 < far["travel_minutes"]


def test_a_list_replaces_the_one_before_and_what_is_not_said_stays(firm: Firm) -> None:
    first = firm.post("/v1/crews", {"crews": [NORTH], "machines": [GRINDER]}).json()
    second = firm.post("/v1/crews", {"crews": [{**NORTH, "id": "south"}]}).json()
    assert [crew["id"] for crew in second["document"]["crews"]] == ["south"]
    assert second["document"]["machines"] == first["document"]["machines"] == [GRINDER]
    assert firm.client.get(f"/v1/crews/{first['id']}").json()["document"]["crews"] == [NORTH]
    listed = firm.client.get("/v1/crews").json()["items"]
    assert {version["id"] for version in listed} == {first["id"], second["id"]}


@pytest.mark.parametrize(
    ("document", "where"),
    [
        ({}, "/crews"),
        ({"crews": []}, "/crews"),
        ({"crews": [NORTH, NORTH]}, "/crews/1"),
        ({"crews": [{**NORTH, "people": 0}]}, "/crews/0/people"),
        ({"crews": [{**NORTH, "skills": ["slab", "magic"]}]}, "/crews/0/skills/1"),
        ({"crews": [{**NORTH, "home": ""}]}, "/crews/0/home"),
        ({"crews": [{**NORTH, "absences": [{**AWAY, "people": 5}]}]}, "/crews/0/absences/0/people"),
        ({"crews": [{**NORTH, "absences": [{**AWAY, "to": "2026-03-01"}]}]}, "/crews/0/absences/0/to"),
        (
            {"crews": [{**NORTH, "calendar": "019e3b1c-0000-7000-8000-000000000001"}]},
            "/crews/0/calendar",
        ),
        ({"crews": [NORTH], "machines": [GRINDER, GRINDER]}, "/machines/1"),
    ],
)
def test_crews_that_cannot_be_are_refused_with_the_place(
    firm: Firm, document: dict[str, Any], where: str
) -> None:
    answer = firm.post("/v1/crews", document)
    assert answer.status_code == 422, answer.text
    assert pointers_of(answer) == [where]
    assert firm.client.get("/v1/crews").json()["items"] == []
