"""Where to measure next, as a client sees it with the correction."""

from typing import Any

from tests.support.api import Firm, valid_job
from tests.support.own_worker import OwnWorker


def _hollow() -> dict[str, Any]:
    """The garden room with a hollow of an inch in its middle, read roughly."""
    job = valid_job()
    survey = job["surveys"][0]
    survey["setups"][0]["instrument"] = "rotary-laser"
    survey["readings"][0]["value"] = [46.2, 46.3, 46.3, 46.2, 46.4, 47.1, 47.2, 46.3, 46.2, 46.4, 46.3, 46.2]
    return job


def test_a_correction_on_twelve_readings_says_where_to_read_next(owner: Firm, worker: OwnWorker) -> None:
    path = owner.post("/v1/estimates", _hollow()).headers["location"]
    worker.work_off()
    asked = owner.client.get(f"{path}/correction").json()["result"]["next_readings"]
    assert len(asked["readings"]) >= 3
    costs = [asked["cost_sd"], *(reading["cost_sd"] for reading in asked["readings"])]
    assert costs == sorted(costs, reverse=True)
    for reading in asked["readings"]:
        x, y = reading["at"]
        assert 0.0 < x < 4.42
        assert 0.0 < y < 3.36
        assert reading["place"].count("from wall") == len(reading["walls"]) == 2
        assert {wall["room"] for wall in reading["walls"]} == {"garden"}
