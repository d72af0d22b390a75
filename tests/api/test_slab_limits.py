"""What is measured on a slab is held against the limits of the firm's own products, and blocks or holds."""

from typing import Any

from tests.support.api import Firm, valid_job
from tests.support.own_worker import OwnWorker
from tests.support.problems import pointers_of


def _estimate(firm: Firm, worker: OwnWorker, slab: dict[str, Any]) -> dict[str, Any]:
    job = valid_job()
    job["site"] = {**job.get("site", {}), "slab": slab}
    answer = firm.post("/v1/estimates", job)
    assert answer.status_code == 202, answer.text
    worker.work_off()
    estimate: dict[str, Any] = firm.client.get(answer.headers["location"]).json()
    return estimate


def test_a_slab_too_humid_for_the_adhesive_ends_the_estimate_with_the_reason(
    firm: Firm, worker: OwnWorker
) -> None:
    estimate = _estimate(firm, worker, {"humidity_percent": 88})
    assert estimate["state"] == "refused"
    (problem,) = [one for one in estimate["problems"] if one["code"] == "slab-too-humid"]
    assert problem["pointer"] == "/site/slab/humidity_percent"
    assert "88 %" in problem["detail"]
    assert "at most 75 %" in problem["detail"]


def test_limits_of_the_firms_own_adhesive_count_and_what_is_unknown_stands_in_the_plan(
    firm: Firm, worker: OwnWorker
) -> None:
    limits = {"most_humidity_percent": 90, "least_age_days": 28, "source": "the firm's own adhesive sheet"}
    adhesive = {"lead_days": 4, "limits": limits, "hazards": ["epoxy"]}
    assert firm.post("/v1/catalogues", {"adhesive": adhesive}).status_code == 201
    estimate = _estimate(firm, worker, {"humidity_percent": 88, "ph": 10.5})
    assert estimate["state"] == "completed", estimate["problems"]
    (told,) = [one for one in estimate["problems"] if one["code"] == "slab-ph"]
    assert told["detail"].startswith("hold: ")
    codes = {one["code"] for one in estimate["problems"]}
    assert "caution-epoxy" in codes
    assert "caution-isocyanates" not in codes
    path = f"/v1/estimates/{estimate['id']}"
    takeoff, plan = (firm.client.get(f"{path}/{stage}").json()["result"] for stage in ("takeoff", "schedule"))
    age = next(hold for hold in takeoff["holds"] if hold["code"] == "slab-too-young")
    assert age["source"] == "the firm's own adhesive sheet"
    held = next(hold for hold in plan["holds"] if hold["code"] == "slab-too-young")
    assert "/spread/" in held["activity"]
    bought = next(one for one in plan["purchases"] if one["product"] == "wood-adhesive")
    assert bought["order_by"] < bought["needed_on"]


def test_a_product_says_which_of_its_limits_block_and_may_limit_the_air(
    firm: Firm, worker: OwnWorker
) -> None:
    limits = {"most_ph": 9, "most_air_humidity_percent": 40, "blocks": ["ph"], "source": "the sheet"}
    assert firm.post("/v1/catalogues", {"adhesive": {"limits": limits}}).status_code == 201
    held = _estimate(firm, worker, {"ph": 8})
    assert held["state"] == "completed", held["problems"]
    (told,) = [one for one in held["problems"] if one["code"] == "air-humidity"]
    assert told["severity"] == "finding"
    assert told["pointer"] == "/climate/humidity"
    assert "the sheet" in told["detail"]
    blocked = _estimate(firm, worker, {"ph": 10})
    assert blocked["state"] == "refused"
    (told,) = [one for one in blocked["problems"] if one["code"] == "slab-ph"]
    assert told["severity"] == "refusal"


def test_limits_that_no_site_keeps_or_of_what_is_unknown_are_refused(firm: Firm) -> None:
    wrong = {"least_air_temperature_c": 30, "most_air_temperature_c": 10}
    answer = firm.post("/v1/catalogues", {"adhesive": {"limits": wrong}})
    assert answer.status_code == 422
    assert pointers_of(answer) == ["/adhesive/limits/least_air_temperature_c"]
    answer = firm.post("/v1/catalogues", {"adhesive": {"limits": {"blocks": ["smell"]}}})
    assert answer.status_code == 422


def test_measures_that_cannot_be_are_refused_where_they_stand(firm: Firm) -> None:
    job = valid_job()
    job["site"] = {"slab": {"ph": 15, "profile": 11, "residue": "glue"}}
    answer = firm.post("/v1/estimates", job)
    assert answer.status_code == 422
    assert set(pointers_of(answer)) == {"/site/slab/ph", "/site/slab/profile", "/site/slab/residue"}
    for wrong in ({"limits": {"not_on": ["glue"]}}, {"hazards": ["smell"]}):
        assert firm.post("/v1/catalogues", {"adhesive": wrong}).status_code == 422
