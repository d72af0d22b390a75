"""A price is promised before anybody has seen the slab, and changed by order once it is surveyed."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import jsonschema
import pytest

from slab_api.app import bare_app
from slab_api.openapi import openapi_document
from tests.support.api import Firm, Service, valid_job
from tests.support.own_worker import OwnWorker
from tests.support.problems import code_of, pointers_of
from tests.support.records import job_record, room_record, survey_record

OPTIONS = {"seed": 1, "pricing_date": "2026-03-02", "earliest_start": "2026-03-03T08:00:00-07:00"}
UNSEEN: dict[str, Any] = {"surveys": [], "options": {**OPTIONS, "basis": "allowance"}}
LAST_DAY = {"valid_until": (datetime.now(UTC) + timedelta(days=20)).date().isoformat()}
TERMS: dict[str, Any] = {
    "risk_level": "0.8",
    "deposit_share": "0.4",
    "progress_draws": [{"milestone": "hand-over", "share": "0.6"}],
    "not_to_exceed_basis": "p95",
    "standby_rate": "420",
    "discounts": [{"code": "spring", "what": "Spring discount", "share": "0.05"}],
}
_DOCUMENT = openapi_document(bare_app(base_url="http://x"))


def _check(schema: str, value: Any) -> None:
    whole = {"$ref": f"#/components/schemas/{schema}", "components": _DOCUMENT["components"]}
    jsonschema.Draft202012Validator(whole).validate(value)


def _job(firm: Firm) -> str:
    path: str = firm.post("/v1/jobs", job_record(scope={"removal": "carpet"})).headers["location"]
    assert firm.post(f"{path}/rooms", room_record()).status_code == 201
    return path


def _estimated(firm: Firm, worker: OwnWorker, path: str, request: dict[str, Any]) -> dict[str, Any]:
    answer = firm.post(path, request)
    assert answer.status_code == 202, answer.text
    worker.work_off()
    estimate: dict[str, Any] = firm.client.get(answer.headers["location"]).json()
    _check("Estimate", estimate)
    assert estimate["state"] == "completed", estimate["problems"]
    return estimate


def _amount(money: dict[str, str]) -> Decimal:
    return Decimal(money["amount"])


def test_a_job_without_a_survey_is_quoted_promised_and_changed_after_tear_out(
    firm: Firm, worker: OwnWorker, service: Service
) -> None:
    assert firm.post("/v1/price-books", TERMS).status_code == 201
    path = _job(firm)
    unseen = _estimated(firm, worker, f"{path}/estimates", UNSEEN)
    assert {step["stage"] for step in unseen["steps"]} == {"rooms", "layout", "takeoff", "schedule", "quote"}
    (alternate,) = unseen["alternates"]
    assert (alternate["alternate"], alternate["passes"], alternate["plan_cost"]) == ("allowance", False, None)
    assert alternate["bags"] > 0
    assert "slab-unseen" in {problem["code"] for problem in unseen["problems"]}
    for stage in ("takeoff", "quote"):
        result = firm.client.get(unseen["links"][stage])
        assert result.status_code == 200, result.text

    (first,) = unseen["links"]["quotes"]
    record = firm.client.get(first).json()
    _check("Quote", record)
    said = record["document"]["quote"]["before_tear_out"]
    assert [each["code"] for each in said["unit_prices"]] == ["bags", "grinding"]
    assert record["document"]["quote"]["contingency"]["draws"] == 10_000
    assert f"{said['unit_prices'][0]['price']['amount']} USD a bag" in said["sentence"]
    value = said["quick_survey"]
    assert value["survey_price"]["currency"] == value["saves"]["currency"] == "USD"
    assert f"it saves {value['saves']['amount']}" in value["sentence"]

    link = firm.post(f"{first}/send", LAST_DAY).json()["link"]
    customer = service.client()
    offer = customer.get(link).json()
    _check("Offer", offer)
    total = _amount(offer["total"])
    assert sum(_amount(each["amount"]) for each in offer["terms"]["payments"]) == total
    assert _amount(offer["terms"]["not_to_exceed"]) >= total
    assert offer["before_tear_out"]["sentence"] == said["sentence"]
    assert set(offer["before_tear_out"]["unit_prices"][0]) == {"what", "unit", "allowed", "price", "tax"}
    assert customer.post(f"{link}/accept", json={"name": "R. Amsel"}).status_code == 200

    survey = firm.post(f"{path}/surveys", survey_record()).headers["location"]
    assert firm.post(f"{survey}/close", {"chunks": 0}).status_code == 200
    (second,) = _estimated(firm, worker, f"{path}/estimates", {"options": OPTIONS})["links"]["quotes"]
    wanted = firm.client.get(second).json()
    assert wanted["document"]["quote"]["before_tear_out"] is None
    order = firm.post(f"{first}/change-orders", {"quote": wanted["id"]}).json()["document"]["change"]
    assert _amount(order["total_before"]) == total
    assert total + _amount(order["total"]) == _amount(wanted["document"]["quote"]["total"])
    of_slab = [line for line in order["lines"] if line["key"].startswith(("compound/", "grind/"))]
    assert of_slab
    assert all(line["quantity_before"] != "0" for line in of_slab)
    assert {line["cause"] for line in order["lines"]} <= {"survey", "follows"}
    assert {line["cause"] for line in of_slab} == {"survey"}

    seen = customer.get(firm.post(f"{second}/send", LAST_DAY).json()["link"]).json()
    _check("Offer", seen)
    lines = seen["change"]["lines"]
    assert sum(_amount(line["price"]) + _amount(line["tax"]) for line in lines) == _amount(order["total"])
    assert [line["what"] for line in lines].count("Spring discount") == 1
    told = " ".join(line["reason"] for line in lines)
    assert "the slab is measured now" in told
    costs = {line[f"unit_cost_{when}"]["amount"] for line in order["lines"] for when in ("before", "after")}
    dear = {amount for amount in costs if Decimal(amount) > 100}
    assert dear
    assert not [amount for amount in dear if amount in told]
    assert {line["unit"] for line in seen["lines"]} >= {"person-hours", "machine-hours"}


def test_an_inline_job_without_surveys_is_estimated_and_the_same_again_is_the_same(
    firm: Firm, worker: OwnWorker
) -> None:
    posted = valid_job(surveys=[], options=UNSEEN["options"])
    first, again = (_estimated(firm, worker, "/v1/estimates", posted) for _ in range(2))
    assert first["quotes"][0]["total"] == again["quotes"][0]["total"]


def test_an_allowance_beside_surveys_or_what_needs_them_is_refused_with_the_places(firm: Firm) -> None:
    options = {**UNSEEN["options"], "alternates": ["level", "plane"], "confidence": 0.9, "lower_bound": True}
    refused = firm.post("/v1/estimates", valid_job(options=options))
    assert code_of(refused) == "invalid-document"
    assert set(pointers_of(refused)) >= {
        "/options/alternates", "/options/confidence", "/options/lower_bound", "/surveys",
    }  # fmt: skip
    assert code_of(firm.post("/v1/estimates", valid_job(surveys=[]))) == "invalid-document"


def test_the_cheapest_floor_is_quoted_before_tear_out_with_fewer_bags_and_says_why(
    firm: Firm, worker: OwnWorker
) -> None:
    plain = _estimated(firm, worker, "/v1/estimates", valid_job(surveys=[], options=UNSEEN["options"]))
    posted = valid_job(surveys=[], options={**UNSEEN["options"], "alternates": ["cheapest"]})
    cheapest = _estimated(firm, worker, "/v1/estimates", posted)
    (one,), (other,) = plain["alternates"], cheapest["alternates"]
    assert (one["alternate"], other["alternate"]) == ("allowance", "allowance")
    assert other["bags"] < one["bags"]
    (quote,) = cheapest["links"]["quotes"]
    said = firm.client.get(quote).json()["document"]["quote"]["before_tear_out"]["sentence"]
    assert "of those for one flat plane" in said
    assert "an estimate from invented slabs" in said


def test_a_job_s_record_without_a_survey_says_how_to_quote_it(firm: Firm) -> None:
    refused = firm.post(f"{_job(firm)}/estimates", {"options": OPTIONS})
    assert code_of(refused) == "job-incomplete"
    assert "options.basis as allowance" in refused.json()["detail"]


def test_a_firm_s_own_slabs_count(firm: Firm, worker: OwnWorker) -> None:
    rate = {"median_per_m2": 0.9, "sd": 0.3, "slabs": 8}
    kind = {"removal": "floating", "age": "unknown", "bags": rate, "grinding": rate}
    posted = valid_job(surveys=[], options=UNSEEN["options"])
    usual = _estimated(firm, worker, "/v1/estimates", posted)["alternates"][0]["bags"]
    made = firm.post("/v1/rates", {"slab_kinds": [kind]})
    assert made.status_code == 201, made.text
    assert _estimated(firm, worker, "/v1/estimates", posted)["alternates"][0]["bags"] > 1.5 * usual


@pytest.mark.parametrize(
    ("change", "place"),
    [
        ({"bags": {"median_per_m2": 0, "sd": 0.3}}, "/slab_kinds/0/bags"),
        ({"bags": {"median_per_m2": 0.4, "sd": 0}}, "/slab_kinds/0/bags/sd"),
        ({"grinding": {"median_per_m2": 0.1, "sd": 2}}, "/slab_kinds/0/grinding/sd"),
        ({"age": "ancient"}, "/slab_kinds/0/age"),
    ],
)
def test_slabs_that_cannot_be_are_refused_at_their_place(
    firm: Firm, change: dict[str, Any], place: str
) -> None:
    rate = {"median_per_m2": 0.4, "sd": 0.3}
    kind = {"removal": "tile", "age": "old", "bags": rate, "grinding": rate, **change}
    refused = firm.post("/v1/rates", {"slab_kinds": [kind]})
    assert code_of(refused) == "invalid-document"
    assert place in pointers_of(refused)


def test_discounts_reserve_and_tax_by_place_are_the_firm_s_to_state(firm: Firm, worker: OwnWorker) -> None:
    book = {
        "warranty_share": "0.02",
        "discounts": [{"code": "spring", "what": "Spring discount", "share": "0.05"}],
        "tax_places": [{"place": "Alder County", "rates": {"material": "0.1"}}],
    }
    assert firm.post("/v1/price-books", book).status_code == 201
    posted = valid_job(surveys=[], options=UNSEEN["options"])
    posted["site"] = {**posted.get("site", {}), "tax_place": "Alder County"}
    (path,) = _estimated(firm, worker, "/v1/estimates", posted)["links"]["quotes"]
    quote = firm.client.get(path).json()["document"]["quote"]
    assert quote["tax_place"] == "Alder County"
    codes = {line["key"]["code"] for line in quote["lines"]}
    assert {"warranty-reserve", "discount"} <= codes
    total = sum(_amount(line["price"]) + _amount(line["tax"]) for line in quote["lines"])
    assert total == _amount(quote["total"])
    posted["site"]["tax_place"] = "Birch County"
    refused = firm.post("/v1/estimates", posted)
    assert pointers_of(refused) == ["/site/tax_place"]
    assert "Alder County" in refused.json()["errors"][0]["detail"]


def test_a_discount_that_takes_all_is_refused_at_its_place(firm: Firm) -> None:
    refused = firm.post("/v1/price-books", {"discounts": [{"code": "all", "what": "Free", "share": "1"}]})
    assert pointers_of(refused) == ["/discounts"]
