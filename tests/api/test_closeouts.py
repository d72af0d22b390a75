"""What jobs took is told, compared with the accepted quote, and proposes the firm's next figures."""

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

import jsonschema
import pytest

from slab_api.app import bare_app
from slab_api.openapi import openapi_document
from tests.support.api import Firm, Service, valid_job
from tests.support.own_worker import OwnWorker
from tests.support.problems import code_of, pointers_of

OPTIONS = {"seed": 1, "pricing_date": "2026-03-02", "earliest_start": "2026-03-03T08:00:00-07:00"}
LAST_DAY = (datetime.now(UTC) + timedelta(days=20)).date().isoformat()
_DOCUMENT = openapi_document(bare_app(base_url="http://x"))


def _check(schema: str, value: Any) -> None:
    whole = {"$ref": f"#/components/schemas/{schema}", "components": _DOCUMENT["components"]}
    jsonschema.Draft202012Validator(whole).validate(value)


def _quote(firm: Firm, worker: OwnWorker) -> str:
    estimate = firm.post("/v1/estimates", valid_job(options=OPTIONS)).headers["location"]
    worker.work_off()
    (quote,) = firm.client.get(estimate).json()["links"]["quotes"]
    return str(quote)


def _accepted(service: Service, firm: Firm, worker: OwnWorker) -> str:
    quote = _quote(firm, worker)
    link = firm.post(f"{quote}/send", {"valid_until": LAST_DAY}).json()["link"]
    assert service.client().post(f"{link}/accept", json={"name": "R. Amsel"}).status_code == 200
    return quote


def _lines(firm: Firm, quote: str) -> dict[str, dict[str, Any]]:
    answer = firm.client.get(f"{quote}/work-lines")
    assert answer.status_code == 200, answer.text
    _check("WorkLines", answer.json())
    return {line["code"]: line for line in answer.json()["lines"]}


def _told(firm: Firm, quote: str, *, crew: str = "north", **took: float) -> Any:
    """A closeout in which lines took so many times what was estimated."""
    lines = _lines(firm, quote)
    actuals = [
        {"key": lines[code]["key"], "quantity": lines[code]["quantity"] * ratio}
        for code, ratio in ((code.replace("_", "-"), ratio) for code, ratio in took.items())
    ]
    return firm.post(f"{quote}/closeouts", {"crew": crew, "finished_on": "2026-03-20", "actuals": actuals})


def test_a_job_is_told_and_compared_line_by_line(service: Service, firm: Firm, worker: OwnWorker) -> None:
    quote = _accepted(service, firm, worker)
    answer = _told(firm, quote, clean=1.5, verify=1.0)
    assert answer.status_code == 201, answer.text
    _check("Closeout", answer.json())
    compared = {line["what"]: line for line in answer.json()["comparison"]["lines"]}
    assert compared["Clean"]["ratio"] == pytest.approx(1.5)
    assert firm.client.get(answer.headers["location"]).json() == answer.json()
    record = firm.client.get(quote).json()
    assert record["closeouts"] == [answer.headers["location"]]
    _check("Quote", record)


def test_work_lines_hold_no_money_and_a_crew_lead_may_tell(
    service: Service, firm: Firm, worker: OwnWorker
) -> None:
    quote = _accepted(service, firm, worker)
    lead = service.key(firm.organisation, "crew-lead")
    seen = lead.get(f"{quote}/work-lines")
    assert seen.status_code == 200
    assert not any(word in seen.text for word in ("amount", "price", "cost"))
    key = seen.json()["lines"][0]["key"]
    told = lead.post(
        f"{quote}/closeouts",
        json={"crew": "north", "finished_on": "2026-03-20", "actuals": [{"key": key, "quantity": 2.0}]},
        headers={"idempotency-key": str(uuid4())},
    )
    assert told.status_code == 201, told.text
    assert code_of(lead.get(quote)) == "forbidden"


def test_what_jobs_say_becomes_figures_that_can_be_posted_and_is_not_said_twice(
    service: Service, firm: Firm, worker: OwnWorker
) -> None:
    for ratio in (1.4, 1.5, 1.45):
        assert _told(firm, _accepted(service, firm, worker), clean=ratio).status_code == 201
    found = firm.client.get("/v1/learned-rates?crew=north").json()
    _check("LearnedRates", found)
    assert found["jobs"] == 3
    (clean,) = [each for each in found["learned"] if each["code"] == "clean"]
    assert 1.25 < clean["factor"] < 1.45
    assert clean["low"] < 1.45 < clean["high"]
    assert firm.post("/v1/rates", found["rates"]).status_code == 201
    again = firm.client.get("/v1/learned-rates?crew=north").json()
    (after,) = [each for each in again["learned"] if each["code"] == "clean"]
    assert 1.0 < after["factor"] < 1.1
    before = _lines(firm, _accepted(service, firm, worker))["clean"]["quantity"]
    starter = _lines(other := service.firm(), _accepted(service, other, worker))["clean"]["quantity"]
    assert before / starter == pytest.approx(clean["factor"], rel=1e-3)


def test_one_absurd_entry_is_marked_kept_and_swings_nothing(
    service: Service, firm: Firm, worker: OwnWorker
) -> None:
    for ratio in (1.0, 1.1):
        _told(firm, _accepted(service, firm, worker), clean=ratio)
    before = firm.client.get("/v1/learned-rates").json()["learned"]
    told = _told(firm, _accepted(service, firm, worker), clean=40.0).json()
    assert [line["absurd"] for line in told["comparison"]["lines"]] == [True]
    (after,) = firm.client.get("/v1/learned-rates").json()["learned"]
    assert after["left_out"] == 1
    assert after["factor"] == pytest.approx(before[0]["factor"])


def test_crews_are_told_apart_and_a_later_closeout_replaces_the_one_before(
    service: Service, firm: Firm, worker: OwnWorker
) -> None:
    quote = _accepted(service, firm, worker)
    _told(firm, quote, crew="north", clean=2.0)
    _told(firm, quote, crew="north", clean=1.2)
    _told(firm, _accepted(service, firm, worker), crew="south", clean=0.8)
    north, south = (firm.client.get(f"/v1/learned-rates?crew={c}").json() for c in ("north", "south"))
    assert (north["jobs"], south["jobs"]) == (1, 1)
    assert north["learned"][0]["factor"] > 1.0 > south["learned"][0]["factor"]
    assert north["learned"][0]["factor"] < 1.2


def test_only_an_accepted_quote_is_closed_out_and_every_wrong_entry_is_named(
    service: Service, firm: Firm, worker: OwnWorker
) -> None:
    draft = _quote(firm, worker)
    assert code_of(firm.client.get(f"{draft}/work-lines")) == "quote-not-open"
    quote = _accepted(service, firm, worker)
    actuals = [{"key": "paint/garden/1/-", "quantity": 1.0}, {"key": "clean/garden/1/-", "quantity": -2.0}]
    answer = firm.post(
        f"{quote}/closeouts", {"crew": "north", "finished_on": "2026-03-20", "actuals": actuals}
    )
    assert pointers_of(answer) == ["/actuals/0/key", "/actuals/1/quantity"]
    assert firm.client.get(quote).json()["closeouts"] == []


def _told_unseen(service: Service, firm: Firm, worker: OwnWorker, **took: float) -> Any:
    """A closeout of a job that was promised before anybody had seen its slab."""
    posted = valid_job(
        surveys=[],
        options={**OPTIONS, "basis": "allowance"},
        scope={"removal": "tile"},
        site={"built_year": 1960},
    )
    estimate = firm.post("/v1/estimates", posted).headers["location"]
    worker.work_off()
    (quote,) = firm.client.get(estimate).json()["links"]["quotes"]
    link = firm.post(f"{quote}/send", {"valid_until": LAST_DAY}).json()["link"]
    assert service.client().post(f"{link}/accept", json={"name": "R. Amsel"}).status_code == 200
    return _told(firm, quote, **took)


def test_what_unseen_slabs_took_teaches_what_the_next_ones_are_allowed(
    service: Service, firm: Firm, worker: OwnWorker
) -> None:
    for _ in range(3):
        told = _told_unseen(service, firm, worker, compound=1.9, grind_mh=1.5, bond_grind_mh=1.0)
        assert told.status_code == 201, told.text
        _check("Closeout", told.json())
        assert told.json()["slab"]["removal"] == "tile"
        assert told.json()["slab"]["age"] == "old"
    found = firm.client.get("/v1/learned-rates").json()
    _check("LearnedRates", found)
    bags = next(each for each in found["slabs"] if each["what"] == "bags")
    assert (bags["jobs"], bags["left_out"]) == (3, 0)
    ratio = bags["median_after_per_m2"] / bags["median_before_per_m2"]
    assert 1.2 < ratio < 1.9
    # What an allowance foretold was the slab, and says nothing of yields or rates.
    assert {each["code"] for each in found["learned"]} == {"bond-grind-mh"}
    assert firm.post("/v1/rates", found["rates"]).status_code == 201
    again = firm.client.get("/v1/learned-rates").json()
    assert next(each for each in again["slabs"] if each["what"] == "bags")[
        "median_after_per_m2"
    ] == pytest.approx(bags["median_after_per_m2"])
    told = _told_unseen(service, firm, worker, compound=1.0, grind_mh=0.0)
    compared = {line["key"].split("/")[0]: line for line in told.json()["comparison"]["lines"]}
    other = _told_unseen(service, service.firm(), worker, compound=1.0).json()["comparison"]["lines"][0]
    assert compared["compound"]["estimated"] / other["estimated"] == pytest.approx(ratio, rel=0.1)
    assert compared["grind"]["actual"] == 0.0


def test_hours_of_machines_are_told_beside_those_of_people(
    service: Service, firm: Firm, worker: OwnWorker
) -> None:
    quote = _accepted(service, firm, worker)
    lines = _lines(firm, quote)
    assert lines["bond-grind-mh"]["unit"] == "mh"
    assert lines["bond-grind"]["unit"] == "PH"
    assert _told(firm, quote, bond_grind_mh=1.3, bond_grind=1.5).status_code == 201
    found = firm.client.get("/v1/learned-rates?crew=north").json()
    proposed = next(each for each in found["proposed"] if each["field"] == "bond_grinding_m2_per_mh")
    assert proposed["learned"]["code"] == "bond-grind-mh"


def test_bags_of_a_crew_are_shown_by_crew_and_the_waste_is_the_firm_s(
    service: Service, firm: Firm, worker: OwnWorker
) -> None:
    _told(firm, _accepted(service, firm, worker), crew="north", compound=1.1)
    _told(firm, _accepted(service, firm, worker), crew="south", compound=0.95)
    north, south = (firm.client.get(f"/v1/learned-rates?crew={c}").json() for c in ("north", "south"))
    assert north["learned"][0]["factor"] > 1.0 > south["learned"][0]["factor"]
    assert (
        north["catalogue"] == south["catalogue"] == firm.client.get("/v1/learned-rates").json()["catalogue"]
    )


def test_bags_from_stock_are_used_too_and_teach_no_other_waste(
    service: Service, firm: Firm, worker: OwnWorker
) -> None:
    plain = _lines(firm, _accepted(service, firm, worker))["compound"]["quantity"]
    stock = [{"product": "levelling-compound", "packages": 1}]
    posted = valid_job(options=OPTIONS, scope={**valid_job().get("scope", {}), "stock": stock})
    estimate = firm.post("/v1/estimates", posted).headers["location"]
    worker.work_off()
    (quote,) = firm.client.get(estimate).json()["links"]["quotes"]
    link = firm.post(f"{quote}/send", {"valid_until": LAST_DAY}).json()["link"]
    assert service.client().post(f"{link}/accept", json={"name": "R. Amsel"}).status_code == 200
    lines = firm.client.get(quote).json()["document"]["quote"]["lines"]
    (bought,) = [float(line["quantity"]) for line in lines if line["key"]["code"] == "compound"]
    assert bought == plain - 1.0
    assert _lines(firm, str(quote))["compound"]["quantity"] == plain


def test_primer_and_adhesive_are_told_in_parts_of_packages_and_teach_their_coverage(
    service: Service, firm: Firm, worker: OwnWorker
) -> None:
    quote = _accepted(service, firm, worker)
    adhesive = "adhesive/wood-adhesive"
    line = _lines(firm, quote)[adhesive]
    assert line["unit"] == "pail"
    bought = [
        float(each["quantity"])
        for each in firm.client.get(quote).json()["document"]["quote"]["lines"]
        if each["key"]["code"] == "adhesive"
    ]
    assert 0.0 < line["quantity"] < bought[0]
    for crew, ratio in (("north", 1.2), ("south", 1.2), ("north", 30.0)):
        told = _told(firm, _accepted(service, firm, worker), crew=crew, **{adhesive: ratio}).json()
    assert [each["absurd"] for each in told["comparison"]["lines"]] == [True]
    found = firm.client.get("/v1/learned-rates").json()
    _check("LearnedRates", found)
    (learned,) = found["learned"]
    assert (learned["code"], learned["jobs"], learned["left_out"]) == (adhesive, 2, 1)
    (proposed,) = found["proposed"]
    assert proposed["field"] == "adhesive.coverage_m2_per_l"
    assert 1.1 < proposed["before"] / proposed["after"] < 1.2
    assert firm.post("/v1/catalogues", found["catalogue"]).status_code == 201
    after = _lines(firm, _accepted(service, firm, worker))[adhesive]["quantity"]
    assert after / line["quantity"] == pytest.approx(proposed["before"] / proposed["after"], rel=1e-3)
