"""What may be done at doorways, as a client sees it who allows it."""

from typing import Any

import pytest

from tests.support.api import Firm, valid_job
from tests.support.own_worker import OwnWorker


def _high_door(**doorways: Any) -> dict[str, Any]:
    """The garden room whose one door asks for a floor 3/4 in above what the rest needs, and a second door
    across from it that holds the rest where it is."""
    job = valid_job()
    low, high = ("1/4 in", "7/16 in"), ("1 in", "1 1/8 in")
    job["rooms"][0]["openings"] = [
        {
            "id": "hall door",
            "from": [3, 0],
            "to": [6, 0],
            "threshold": {"height": list(low), "transition": "reducer"},
        },
        {
            "id": "terrace door",
            "from": [3, 11],
            "to": [6, 11],
            "threshold": {"height": list(high), "transition": "flush"},
        },
    ]
    job["options"] = {"grid_step": "0.1 m"}
    if doorways:
        job["options"]["doorways"] = doorways
    return job


def _work(owner: Firm, worker: OwnWorker, job: dict[str, Any], stage: str) -> Any:
    path = owner.post("/v1/estimates", job).headers["location"]
    worker.work_off()
    return owner.client.get(f"{path}/{stage}").json()


def test_a_ramp_is_planned_where_it_costs_least_and_its_hours_are_taken_off(
    owner: Firm, worker: OwnWorker
) -> None:
    job = _high_door(transitions=False, cuts=False, ramp_hours=2.5)
    path = owner.post("/v1/estimates", job).headers["location"]
    worker.work_off()
    result = owner.client.get(f"{path}/correction").json()["result"]
    assert result["passes"]
    assert result["doorways"]
    for work in result["doorways"]:
        assert work["way"] == "ramp"
        assert work["passes"]
        assert work["largest_m"] <= work["rule"]["gap_m"] + 1e-5
        assert work["person_hours"] == 2.5
        assert work["why"].startswith(f"opening {work['opening']}: a ramp of ")
    takeoff = owner.client.get(f"{path}/takeoff").json()["result"]
    (line,) = [line for line in takeoff["lines"] if line["key"]["code"] == "dams"]
    ramps = len(result["doorways"])
    assert line["order"] == pytest.approx(2.5 * ramps)
    assert line["what"] == "Set and strip the endings of pours and the rails of ramps"


def test_another_transition_buys_a_strip_and_takes_its_hours(owner: Firm, worker: OwnWorker) -> None:
    job = _high_door(ramps=False, cuts=False, transition_takes="1 in", transition_price=1, transition_hours=1)
    path = owner.post("/v1/estimates", job).headers["location"]
    worker.work_off()
    result = owner.client.get(f"{path}/correction").json()["result"]
    assert [work["way"] for work in result["doorways"]].count("transition") >= 1
    takeoff = owner.client.get(f"{path}/takeoff").json()["result"]
    (strip,) = [line for line in takeoff["lines"] if line["key"]["code"] == "doorway-transition"]
    assert strip["order"] == len(result["doorways"])
    quote = owner.client.get(f"{path}/quote").json()["result"]
    assert "price-missing" not in {problem["code"] for problem in quote["problems"]}


def test_without_leave_every_threshold_is_met_by_the_floor_itself(owner: Firm, worker: OwnWorker) -> None:
    plain = _work(owner, worker, _high_door(), "correction")
    allowed = _work(owner, worker, _high_door(ramps=True), "correction")
    assert plain["result"]["doorways"] == []
    assert allowed["result"]["solve"]["objective"] < plain["result"]["solve"]["objective"]


def test_with_a_confidence_ramps_keep_their_rule_so_surely_too(owner: Firm, worker: OwnWorker) -> None:
    job = _high_door(transitions=False, cuts=False)
    job["options"]["confidence"] = 0.8
    result = _work(owner, worker, job, "correction")["result"]
    assert result["passes"]
    assert {work["way"] for work in result["doorways"]} == {"ramp"}
    assert result["assurance"]["chosen"]["reached"]
    assert result["assurance"]["chosen"]["probability"] >= 0.8


@pytest.mark.parametrize(
    ("options", "pointer"),
    [
        ({"doorways": {"ramp_slope": 0}}, "/options/doorways/ramp_slope"),
        ({"doorways": {"least_ramp": "7 ft"}}, "/options/doorways/least_ramp"),
        ({"doorways": {"greatest_ramp": "30 ft"}}, "/options/doorways/greatest_ramp"),
        ({"doorways": {"cut_takes": "-1/4 in"}}, "/options/doorways/cut_takes"),
        ({"doorways": {"ramp_rule": {"length": "2 ft"}}}, "/options/doorways/ramp_rule/gap"),
        ({"doorways": {"ramp": True}}, "/options/doorways/ramp"),
        ({"doorways": {"cuts": False}, "basis": "allowance"}, "/options/doorways"),
    ],
)
def test_what_cannot_be_is_refused_with_its_place(owner: Firm, options: dict[str, Any], pointer: str) -> None:
    answer = owner.post("/v1/estimates", valid_job(options=options))
    assert answer.status_code == 422
    assert pointer in {fault["pointer"] for fault in answer.json()["errors"]}


def test_the_cheapest_floor_has_its_ramp_and_everything_after_it_counts_it(
    owner: Firm, worker: OwnWorker
) -> None:
    """A floor that passes but for its doors: nobody brings it to a plane for a ramp."""
    job = _high_door(transitions=False, cuts=False, ramp_hours=2.5)
    job["options"]["alternates"] = ["cheapest", "plane"]
    path = owner.post("/v1/estimates", job).headers["location"]
    worker.work_off()
    found = {
        alternate: owner.client.get(f"{path}/correction?alternate={alternate}").json()["result"]
        for alternate in ("cheapest", "plane")
    }
    cheapest = found["cheapest"]
    assert cheapest["passes"]
    assert [work["way"] for work in cheapest["doorways"]] == ["ramp"]
    assert cheapest["solve"]["objective"] <= found["plane"]["solve"]["objective"]
    takeoff = owner.client.get(f"{path}/takeoff?alternate=cheapest").json()["result"]
    (line,) = [line for line in takeoff["lines"] if line["key"]["code"] == "dams"]
    assert line["order"] >= 2.5
    quote = owner.client.get(f"{path}/quote?alternate=cheapest").json()["result"]
    assert float(quote["total"]["amount"]) > 0
