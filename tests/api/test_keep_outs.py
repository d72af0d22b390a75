"""Keep-out zones and the heights of hearths, as a client posts them and reads what comes of them."""

from typing import Any

from slab_api.schemas.job import EstimateRequest
from tests.support.api import Firm, valid_job
from tests.support.own_worker import OwnWorker


def _room(job: dict[str, Any], **changes: Any) -> dict[str, Any]:
    job["rooms"][0].update(changes)
    job["options"] = {"grid_step": "0.1 m"}
    return job


def _worked(owner: Firm, worker: OwnWorker, job: dict[str, Any]) -> str:
    answer = owner.post("/v1/estimates", job)
    assert answer.status_code in (201, 202), answer.text
    worker.work_off()
    return str(answer.headers["location"])


def test_a_zone_of_the_whole_room_leaves_nothing_to_grind_and_a_caution(
    owner: Firm, worker: OwnWorker
) -> None:
    whole = [[0, 0], ["14' 6\"", 0], ["14' 6\"", 11], [0, 11]]
    zone = {"id": "pipes", "reason": "heating-pipes", "outline": whole}
    path = _worked(owner, worker, _room(valid_job(), keep_outs=[zone]))
    assert owner.client.get(f"{path}/correction").json()["result"]["grind_m3"] == 0.0
    takeoff = owner.client.get(f"{path}/takeoff").json()["result"]
    assert "bond-grind" not in {line["key"]["code"] for line in takeoff["lines"]}
    assert "caution-heating-pipes" in {problem["code"] for problem in takeoff["problems"]}


def test_a_hearth_that_cannot_be_met_is_refused_with_its_place(owner: Firm, worker: OwnWorker) -> None:
    hearth = {
        "id": "hearth",
        "kind": "hearth",
        "outline": [[6, 9], [10, 9], [10, 11], [6, 11]],
        "threshold": {"height": ["-4 in", "-3 1/2 in"]},
    }
    path = _worked(owner, worker, _room(valid_job(), obstacles=[hearth]))
    estimate = owner.client.get(path).json()
    assert "/rooms/0/obstacles/0/threshold" in {problem["pointer"] for problem in estimate["problems"]}


def test_the_example_of_the_contract_with_its_zone_is_corrected(owner: Firm, worker: OwnWorker) -> None:
    (example,) = EstimateRequest.model_config["json_schema_extra"]["examples"]  # type: ignore[index,call-overload]
    assert example["rooms"][0]["keep_outs"]
    path = _worked(owner, worker, dict(example))
    estimate = owner.client.get(path).json()
    assert not [problem for problem in estimate["problems"] if problem["severity"] == "refusal"]
    assert owner.client.get(f"{path}/quote").status_code == 200
