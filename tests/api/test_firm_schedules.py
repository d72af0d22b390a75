"""The firm's jobs are planned together, again after a slip, asked about, published and subscribed to."""

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

import httpx
import icalendar
import jsonschema
import pytest

from slab_api.app import bare_app
from slab_api.openapi import openapi_document
from tests.support.api import Firm, Service, valid_job
from tests.support.own_worker import OwnWorker
from tests.support.problems import code_of, pointers_of

OPTIONS = {"seed": 1, "pricing_date": "2026-03-02", "earliest_start": "2026-03-03T08:00:00-07:00"}
LAST_DAY = {"valid_until": (datetime.now(UTC) + timedelta(days=20)).date().isoformat()}
FROM = "2026-03-30T06:00:00+00:00"
NORTH: dict[str, Any] = {"id": "north", "people": 4, "skills": ["slab", "wood"]}
SOUTH: dict[str, Any] = {"id": "south", "people": 3, "skills": ["wood"]}
_DOCUMENT = openapi_document(bare_app(base_url="http://x"))


@pytest.fixture(scope="module")
def quotes(service: Service, owner: Firm, worker: OwnWorker) -> tuple[str, str, str]:
    """Two accepted quotes and one that is only sent, of one firm."""
    made = tuple(_quote(owner, worker) for _ in range(3))
    customer = service.client()
    for n, quote in enumerate(made):
        sent = owner.post(f"/v1/quotes/{quote}/send", LAST_DAY)
        assert sent.status_code == 201, sent.text
        if n < 2:
            accepted = customer.post(f"{sent.json()['link']}/accept", json={"name": "R. Amsel"})
            assert accepted.status_code == 200, accepted.text
    return made[0], made[1], made[2]


def _quote(firm: Firm, worker: OwnWorker) -> str:
    estimate = firm.post("/v1/estimates", valid_job(options=OPTIONS)).headers["location"]
    worker.work_off()
    (quote,) = firm.client.get(estimate).json()["quotes"]
    return str(quote["id"])


def _request(quotes: tuple[str, str, str], **changes: Any) -> dict[str, Any]:
    jobs = [
        {"quote": quotes[0], "id": "alder", "site": "alder lane", "promised": "2026-04-17"},
        {"quote": quotes[1], "id": "birch", "promised": "2026-04-24"},
    ]
    return {
        "from": FROM,
        "seconds": 0.2,
        "crews": [NORTH, SOUTH],
        "machines": [{"id": "grinder 1", "kind": "floor-grinder"}],
        "sites": [{"id": "alder lane", "blocked": ["2026-04-03"]}],
        "travel": [{"to": "alder lane", "minutes": 25}],
        "jobs": jobs,
        **changes,
    }


def _planned(firm: Firm, worker: OwnWorker, path: str, body: dict[str, Any]) -> str:
    """The path of a schedule that is posted and computed."""
    answer = firm.post(path, body)
    assert answer.status_code == 202, answer.text
    _check("FirmSchedule", answer.json())
    worker.work_off()
    where: str = answer.headers["location"]
    done = firm.client.get(where).json()
    _check("FirmSchedule", done)
    assert done["state"] == "completed", done
    return where


def _result(firm: Firm, where: str) -> dict[str, Any]:
    found = firm.client.get(f"{where}/plan").raise_for_status().json()
    _check("FirmAnswerAnswer", found)
    result: dict[str, Any] = found["result"]
    return result


def _check(schema: str, value: Any) -> None:
    whole = {"$ref": f"#/components/schemas/{schema}", "components": _DOCUMENT["components"]}
    jsonschema.Draft202012Validator(whole).validate(value)


@pytest.fixture(scope="module")
def schedule(owner: Firm, worker: OwnWorker, quotes: tuple[str, str, str]) -> str:
    """A plan of both accepted jobs that tests only read."""
    return _planned(owner, worker, "/v1/firm-schedules", _request(quotes))


def test_accepted_quotes_are_planned_with_bounds_and_reasons(owner: Firm, schedule: str) -> None:
    plan = _result(owner, schedule)["plan"]
    assert {visit["job"] for visit in plan["visits"]} == {"alder", "birch"}
    assert plan["late_minutes"] == 0
    assert 0 < plan["paid_bound"] <= plan["paid_minutes"]
    assert plan["gap"] == pytest.approx(1 - plan["paid_bound"] / plan["paid_minutes"])
    assert plan["chains"][0][-1].split(": ")[1].startswith("“")
    for visit in plan["visits"]:
        assert FROM < visit["start_at"] < visit["end_at"]
        if visit["job"] == "alder":
            assert not visit["start_at"].startswith("2026-04-03T1"), "the customer lets nobody in"
    pours = [visit for visit in plan["visits"] if "/pour" in visit["task"]]
    assert all(visit["people"] >= 3 and visit["crew"] == "north" for visit in pours)


def test_the_same_firm_posted_again_finds_its_plan(
    owner: Firm, worker: OwnWorker, quotes: tuple[str, str, str], schedule: str
) -> None:
    again = _planned(owner, worker, "/v1/firm-schedules", _request(quotes))
    assert again != schedule
    first, second = (owner.client.get(f"{where}/plan").json() for where in (schedule, again))
    assert first == second


def test_a_firm_that_was_planned_once_need_not_be_told_again(
    owner: Firm, worker: OwnWorker, quotes: tuple[str, str, str], schedule: str
) -> None:
    id_ = schedule.rpartition("/")[2]
    told = {name: _request(quotes)[name] for name in ("from", "seconds", "jobs")}
    again = _planned(owner, worker, "/v1/firm-schedules", {**told, "like": id_})
    first, second = (owner.client.get(f"{where}/plan").json() for where in (schedule, again))
    assert first == second
    smaller = {**told, "like": id_, "crews": [{**NORTH, "id": "west"}]}
    plan = _result(owner, _planned(owner, worker, "/v1/firm-schedules", smaller))["plan"]
    assert {visit["crew"] for visit in plan["visits"]} == {"west"}
    nobody = owner.post("/v1/firm-schedules", {**told, "like": str(uuid4())})
    assert pointers_of(nobody) == ["/like", "/crews"]


def test_schedules_are_listed_apart_from_estimates(owner: Firm, schedule: str) -> None:
    id_ = schedule.rpartition("/")[2]
    listed = owner.client.get("/v1/firm-schedules").json()
    _check("FirmScheduleItemList", listed)
    assert id_ in [item["id"] for item in listed["items"]]
    assert id_ not in [item["id"] for item in owner.client.get("/v1/estimates").json()["items"]]
    assert code_of(owner.client.get(f"/v1/estimates/{id_}")) == "not-found"


def test_a_plan_that_is_waited_for_comes_back_finished(
    owner: Firm, worker: OwnWorker, quotes: tuple[str, str, str], schedule: str
) -> None:
    headers = {"idempotency-key": str(uuid4()), "prefer": "wait=1"}
    answer = owner.client.post("/v1/firm-schedules", json=_request(quotes), headers=headers)
    assert answer.status_code == 202, "nobody works while the client waits"
    worker.work_off()
    again = owner.client.post("/v1/firm-schedules", json=_request(quotes), headers=headers)
    assert (again.status_code, again.json()["state"]) == (200, "completed")


def test_after_a_slip_what_has_begun_stands_and_little_moves(
    owner: Firm, worker: OwnWorker, schedule: str
) -> None:
    before = _result(owner, schedule)["plan"]["visits"]
    now = sorted(visit["start_at"] for visit in before)[3]
    begun = [visit for visit in before if visit["start_at"] < now]
    late = max(begun, key=lambda visit: str(visit["end_at"]))
    ends = datetime.fromisoformat(late["end_at"]).replace(tzinfo=UTC, hour=23).isoformat()
    slip = {
        "from": now,
        "seconds": 0.2,
        "happened": [{"job": late["job"], "task": late["task"], "end": ends}],
    }
    result = _result(owner, _planned(owner, worker, f"{schedule}/replans", slip))
    after = {(visit["job"], visit["task"]): visit for visit in result["plan"]["visits"]}
    for visit in begun:
        same = after[visit["job"], visit["task"]]
        assert same["start_at"] == visit["start_at"]
    moved = {(move["job"], move["task"]) for move in result["moves"]}
    for visit in before:
        same = after[visit["job"], visit["task"]]
        key = (visit["job"], visit["task"])
        assert key in moved or (same["start_at"], same["crew"]) == (visit["start_at"], visit["crew"])
    assert len(moved) < len(before)


def test_a_job_that_is_dropped_is_gone_and_an_absence_is_kept(
    owner: Firm, worker: OwnWorker, schedule: str
) -> None:
    body = {
        "from": FROM,
        "seconds": 0.2,
        "drop": ["birch"],
        "absences": [{"crew": "north", "from": "2026-03-30", "to": "2026-04-05"}],
    }
    result = _result(owner, _planned(owner, worker, f"{schedule}/replans", body))
    visits = result["plan"]["visits"]
    assert {visit["job"] for visit in visits} == {"alder"}
    assert all(visit["start_at"] > "2026-04-06" for visit in visits if visit["crew"] == "north")


def test_one_more_job_is_told_its_first_start_and_makes_no_plan(
    owner: Firm, worker: OwnWorker, quotes: tuple[str, str, str], schedule: str
) -> None:
    body = {"from": FROM, "seconds": 0.2, "job": {"quote": quotes[2], "id": "cedar"}}
    where = _planned(owner, worker, f"{schedule}/what-ifs", body)
    result = _result(owner, where)
    assert result["plan"] is None
    told = result["what_if"]
    assert told["instead"] is None
    assert {visit["job"] for visit in told["visits"]} == {"cedar"}
    assert told["first_start_at"] == min(visit["start_at"] for visit in told["visits"])
    for part in ("gantt", "calendar?crew=north"):
        assert code_of(owner.client.get(f"{where}/{part}")) == "result-not-ready"
    assert code_of(owner.post(f"{where}/publish", None)) == "result-not-ready"


def test_the_chart_has_each_visit_in_the_row_of_its_crew(owner: Firm, schedule: str) -> None:
    plan = _result(owner, schedule)["plan"]
    found = owner.client.get(f"{schedule}/gantt").json()
    _check("GanttAnswer", found)
    chart = found["result"]
    rows = {row["id"]: row["bars"] for row in chart["rows"]}
    assert list(rows) == ["north", "south", "grinder 1"]
    for visit in plan["visits"]:
        assert f"{visit['job']}/{visit['task']}" in rows[visit["crew"]]
    bars = {bar["id"]: bar for bar in chart["bars"]}
    assert all(bar["start_at"] <= bar["latest_start_at"] for bar in chart["bars"])
    assert any(bar["start_at"] < bar["latest_start_at"] for bar in chart["bars"])
    for link in chart["links"]:
        assert bars[link["before"]]["end_at"] <= bars[link["after"]]["start_at"]
    assert {job["id"]: job["late_minutes"] for job in chart["jobs"]} == {"alder": 0, "birch": 0}


def test_a_crew_subscribes_to_what_is_published_and_a_closed_link_opens_nothing(
    service: Service, owner: Firm, schedule: str
) -> None:
    made = owner.post("/v1/crew-calendars", {"crew": "north"})
    assert made.status_code == 201, made.text
    _check("NewCrewCalendar", made.json())
    crew, link = service.client(), made.json()["link"]
    empty = icalendar.Calendar.from_ical(crew.get(link).raise_for_status().content)
    assert empty.walk("VEVENT") == []

    published = owner.post(f"{schedule}/publish", None)
    assert published.status_code == 201, published.text
    _check("PublishedSchedule", published.json())
    feed = crew.get(link)
    assert feed.headers["content-type"].startswith("text/calendar")
    visits = [v for v in _result(owner, schedule)["plan"]["visits"] if v["crew"] == "north"]
    _tells(feed, visits)
    _tells(owner.client.get(f"{schedule}/calendar?crew=north"), visits)
    _tells(owner.client.get(f"{schedule}/calendar"), _result(owner, schedule)["plan"]["visits"])

    record = f"/v1/crew-calendars/{made.json()['calendar']['id']}"
    closed = owner.client.post(f"{record}/withdraw").raise_for_status()
    _check("CrewCalendar", closed.json())
    assert closed.json()["withdrawn_at"] is not None
    assert code_of(crew.get(link)) == "not-found"
    listed = owner.client.get("/v1/crew-calendars").json()
    _check("CrewCalendarList", listed)
    assert owner.client.get(record).json() in listed["items"]


def test_a_link_for_a_crew_that_nobody_knows_is_refused(owner: Firm, schedule: str) -> None:
    refused = owner.post("/v1/crew-calendars", {"crew": "nroth"})
    assert pointers_of(refused) == ["/crew"]
    assert "north" in refused.text
    assert owner.client.get(schedule).json()["state"] == "completed"
    assert owner.post("/v1/crew-calendars", {"crew": "south"}).status_code == 201


def test_a_job_that_is_off_is_cancelled_in_the_calendars_of_its_crews(
    service: Service, owner: Firm, worker: OwnWorker, quotes: tuple[str, str, str]
) -> None:
    jobs = [{"quote": quotes[0], "id": "alder"}, {"quote": quotes[1], "id": "birch"}]
    later = _request(quotes, jobs=jobs, sites=[], travel=[], crews=[NORTH]) | {"from": "2090-04-03T06:00:00Z"}
    both = _planned(owner, worker, "/v1/firm-schedules", later)
    link = owner.post("/v1/crew-calendars", {"crew": "north"}).json()["link"]
    before = _published_events(service, owner, both, link)
    off = {"from": "2090-04-03T06:00:00Z", "seconds": 0, "drop": ["birch"]}
    after = _published_events(service, owner, _planned(owner, worker, f"{both}/replans", off), link)
    now_off = {uid for uid, event in after.items() if str(event.get("STATUS")) == "CANCELLED"}
    ours = {uid for uid, event in before.items() if str(event["SUMMARY"]).endswith("(birch)")}
    assert ours == now_off != set()
    assert all(before[uid]["SEQUENCE"] < after[uid]["SEQUENCE"] for uid in before)


def test_an_event_that_is_told_again_has_a_higher_sequence_wherever_it_is_read(
    service: Service, owner: Firm, worker: OwnWorker, quotes: tuple[str, str, str]
) -> None:
    jobs = [{"quote": quotes[0], "id": "larch"}]
    asked = _request(quotes, jobs=jobs, sites=[], travel=[], crews=[NORTH], machines=[])
    first = _planned(owner, worker, "/v1/firm-schedules", asked)
    away = {"crew": "north", "from": "2026-03-30", "to": "2026-04-01"}
    slip = {"from": FROM, "seconds": 0, "absences": [away]}
    second = _planned(owner, worker, f"{first}/replans", slip)
    link = owner.post("/v1/crew-calendars", {"crew": "north"}).json()["link"]

    def read(where: str) -> dict[str, icalendar.Event]:
        return _events_of(owner.client.get(f"{where}/calendar"))

    told = [read(first), read(second)]
    told += [_published_events(service, owner, where, link) for where in (first, second, first)]
    in_force = {uid: (told[-1][uid]["SEQUENCE"], told[-1][uid].start) for uid in told[0]}
    assert {uid: (event["SEQUENCE"], event.start) for uid, event in read(first).items()} == in_force
    uids = set.intersection(*(set(events) for events in told))
    assert any(told[0][uid].start != told[1][uid].start for uid in uids)
    for uid in uids:
        assert not {"CANCELLED"} & {str(events[uid].get("STATUS")) for events in told}
        sequences = [int(events[uid]["SEQUENCE"]) for events in told]
        assert sequences == sorted(set(sequences))


def _events_of(answer: httpx.Response) -> dict[str, icalendar.Event]:
    """The events of a calendar by their uids."""
    events = icalendar.Calendar.from_ical(answer.raise_for_status().content).walk("VEVENT")
    found = {str(event["UID"]): event for event in events}
    assert len(found) == len(events)
    return found


def _published_events(service: Service, firm: Firm, where: str, link: str) -> dict[str, icalendar.Event]:
    """The events under a crew's link once a schedule is in force, by their uids."""
    assert firm.post(f"{where}/publish", None).status_code == 201
    return _events_of(service.client().get(link))


def _tells(answer: httpx.Response, visits: list[dict[str, Any]]) -> None:
    """The calendar covers these visits from first start to last end, each event within one of them."""
    events = icalendar.Calendar.from_ical(answer.content).walk("VEVENT")
    spans = [(event.start, event.end) for event in events]
    wanted = [
        (datetime.fromisoformat(visit["start_at"]), datetime.fromisoformat(visit["end_at"]))
        for visit in visits
    ]
    assert {start for start, _ in wanted} <= {start for start, _ in spans}
    assert {end for _, end in wanted} <= {end for _, end in spans}
    for start, end in spans:
        assert start < end
        assert any(first <= start and end <= last for first, last in wanted)


def test_an_estimates_own_schedule_is_given_as_a_calendar(owner: Firm, quotes: tuple[str, str, str]) -> None:
    estimate = owner.client.get(f"/v1/quotes/{quotes[0]}").json()["links"]["estimate"]
    plan = owner.client.get(f"{estimate}/schedule").json()["result"]
    found = icalendar.Calendar.from_ical(owner.client.get(f"{estimate}/schedule/calendar").content)
    events = found.walk("VEVENT")
    people = {activity["id"]: activity["people"] for activity in plan["activities"]}
    starts = {placed["start_at"] for placed in plan["placed"] if people[placed["activity"]] > 0}
    assert starts <= {event.start.isoformat().replace("+00:00", "Z") for event in events}
    assert len({event["uid"] for event in events}) == len(events)


def test_what_cannot_be_planned_is_named_at_its_place(owner: Firm, quotes: tuple[str, str, str]) -> None:
    wrong = _request(
        quotes,
        jobs=[{"quote": quotes[2]}, {"quote": str(uuid4())}, {"quote": quotes[0], "site": "nowhere"}],
        travel=[{"to": "elsewhere", "minutes": 5}, {"minutes": 5}],
        crews=[{**NORTH, "absences": [{"from": "2026-04-02", "to": "2026-04-01", "people": 9}]}],
    )
    assert sorted(pointers_of(owner.post("/v1/firm-schedules", wrong))) == [
        "/crews/0/absences/0/people",
        "/crews/0/absences/0/to",
        "/jobs/0/quote",
        "/jobs/1/quote",
        "/jobs/2/site",
        "/travel/0/to",
        "/travel/1",
    ]
    nobody = owner.post("/v1/firm-schedules", _request(quotes, crews=[SOUTH]))
    assert set(pointers_of(nobody)) == {"/jobs/0", "/jobs/1"}
    assert "no crew has the skill 'slab'" in nobody.text


def test_a_slip_that_names_nothing_is_refused_at_its_place(owner: Firm, schedule: str) -> None:
    body = {
        "happened": [{"job": "alder", "task": "nothing"}],
        "absences": [{"crew": "west", "from": "2026-04-02", "to": "2026-04-02"}],
        "blocked": [{"site": "nowhere", "days": ["2026-04-02"]}],
        "free": ["cedar"],
        "drop": ["alder", "birch"],
    }
    found = pointers_of(owner.post(f"{schedule}/replans", body))
    assert sorted(found) == ["/absences/0/crew", "/blocked/0/site", "/drop", "/free/0", "/happened/0"]


def test_a_schedule_that_is_cancelled_has_no_plan(owner: Firm, quotes: tuple[str, str, str]) -> None:
    where = owner.post("/v1/firm-schedules", _request(quotes, seconds=7)).headers["location"]
    assert code_of(owner.client.get(f"{where}/plan")) == "result-not-ready"
    assert owner.client.post(f"{where}/cancel").json()["state"] == "cancelled"
    assert code_of(owner.client.get(f"{where}/plan")) == "result-not-ready"


def test_a_crew_lead_reads_schedules_and_posts_none(service: Service, owner: Firm, schedule: str) -> None:
    lead = service.key(owner.organisation, "crew-lead")
    assert lead.get(f"{schedule}/plan").status_code == 200
    headers = {"idempotency-key": str(uuid4())}
    assert code_of(lead.post(f"{schedule}/publish", headers=headers)) == "forbidden"


@pytest.mark.parametrize("spoil", [lambda link: link[:-1], lambda link: link.replace("crew_", "offer_")])
def test_a_spoilt_link_leads_nowhere(service: Service, owner: Firm, spoil: Any) -> None:
    link = owner.post("/v1/crew-calendars", {"crew": "north"}).json()["link"]
    assert code_of(service.client().get(spoil(link))) == "not-found"
