"""How surely the floor passes, as a client sees it who asks for it."""

from typing import Any

import pytest

from tests.support.api import Firm, valid_job
from tests.support.own_worker import OwnWorker


def _hollow(**options: Any) -> dict[str, Any]:
    """The garden room with a hollow of an inch in its middle, on a coarse grid."""
    job = valid_job()
    job["options"] = {**job.get("options", {}), "grid_step": "0.15 m", **options}
    readings = job["surveys"][0]["readings"][0]
    readings["value"] = [46.2, 46.3, 46.3, 46.2, 46.4, 47.1, 47.2, 46.3, 46.2, 46.4, 46.3, 46.2]
    return job


def test_an_estimate_that_asks_for_it_shows_the_probability_and_its_price(
    owner: Firm, worker: OwnWorker
) -> None:
    job = _hollow(confidence=0.9, placing_errors={"screeded": "1/16 in"})
    path = owner.post("/v1/estimates", job).headers["location"]
    worker.work_off()
    result = owner.client.get(f"{path}/correction").json()["result"]
    assurance = result["assurance"]
    chosen = assurance["chosen"]
    assert chosen["asked"] == 0.9
    assert chosen["reached"] is (chosen["probability"] >= 0.9)
    assert [price["asked"] for price in assurance["prices"]] == [0.8, 0.95]
    assert assurance["placing"]["screeded_m"] == pytest.approx(0.0254 / 16)
    assert assurance["placing"]["ground_m"] == pytest.approx(0.0254 / 32)
    assert len(assurance["margins"]) == len(result["after"])
    codes = [problem["code"] for problem in result["problems"]]
    assert ("confidence-not-reached" in codes) is not chosen["reached"]
    lines = owner.client.get(f"{path}/takeoff").json()["result"]["lines"]
    finishing = [line for line in lines if line["key"]["code"] == "finish"]
    assert bool(finishing) is (chosen["finish_cycles"] > 0)


def test_it_is_null_where_nobody_asks(owner: Firm, worker: OwnWorker) -> None:
    path = owner.post("/v1/estimates", _hollow()).headers["location"]
    worker.work_off()
    assert owner.client.get(f"{path}/correction").json()["result"]["assurance"] is None


@pytest.mark.parametrize(
    ("options", "pointer"),
    [
        ({"confidence": 0.3}, "/options/confidence"),
        ({"confidence": 1.0}, "/options/confidence"),
        ({"placing_errors": {"ground": "1/32 in"}}, "/options/placing_errors"),
        ({"confidence": 0.8, "placing_errors": {"ground": "-1/32 in"}}, "/options/placing_errors/ground"),
        ({"confidence": 0.8, "placing_errors": {"free": "2 in"}}, "/options/placing_errors/free"),
        ({"confidence": 0.8, "placing_errors": {"poured": "1/8 in"}}, "/options/placing_errors/poured"),
    ],
)
def test_what_cannot_be_asked_for_is_refused_at_its_place(
    owner: Firm, options: dict[str, Any], pointer: str
) -> None:
    answer = owner.client.post("/v1/estimates", json=_hollow(**options), headers={"Idempotency-Key": "c"})
    assert answer.status_code == 422
    assert pointer in [error["pointer"] for error in answer.json()["errors"]]
