"""What boards ask of the air is the firm's data, and a job's boards may ask for something else."""

from typing import Any

from tests.support.api import Firm, valid_job
from tests.support.own_worker import OwnWorker
from tests.support.problems import pointers_of


def _told(firm: Firm, worker: OwnWorker, **covering: Any) -> list[str]:
    posted = valid_job(covering=covering, climate={"temperature_c": 21.0, "humidity": 0.52})
    answer = firm.post("/v1/estimates", posted)
    assert answer.status_code == 202, answer.text
    worker.work_off()
    problems = firm.client.get(answer.headers["location"]).json()["problems"]
    return [one["detail"] for one in problems if one["code"] == "climate-for-wood"]


def test_the_catalogue_says_what_the_firm_s_boards_ask_for_and_a_covering_what_its_own_do(
    firm: Firm, worker: OwnWorker
) -> None:
    (usual,) = _told(firm, worker)
    assert "30 to 50 % RH" in usual
    wider = {"most_air_humidity_percent": 60, "air_source": "the firm's boards"}
    assert firm.post("/v1/catalogues", {"wood_limits": wider}).status_code == 201
    assert _told(firm, worker) == []
    (own,) = _told(firm, worker, limits={"least_air_humidity_percent": 55, "air_source": "the box"})
    assert "55 to 60 % RH first (the box)" in own


def test_limits_that_no_boards_keep_are_refused_where_they_stand(firm: Firm) -> None:
    rows = [{"from_width_m": 0.1, "points": 2}]
    wrong = {"least_air_humidity_percent": 70, "subfloor_points": rows}
    answer = firm.post("/v1/estimates", valid_job(covering={"limits": wrong}))
    assert answer.status_code == 422
    assert pointers_of(answer) == [
        "/covering/limits/least_air_humidity_percent",
        "/covering/limits/subfloor_points",
    ]
    answer = firm.post("/v1/catalogues", {"wood_limits": {"acclimated_points": 0}})
    assert pointers_of(answer) == ["/wood_limits/acclimated_points"]
    answer = firm.post("/v1/jobs", {**valid_job(), "covering": {"limits": {"points": 1}}})
    assert "/covering/limits/points" in pointers_of(answer)
