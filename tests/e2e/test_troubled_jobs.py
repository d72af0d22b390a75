"""Trouble with a job's content is kept and told with the estimate, never dropped and never a crash."""

import copy
from typing import Any

import pytest

from tests.e2e.client import Client, Json, codes

FEET = [(x, y) for y in range(1, 14, 2) for x in range(1, 16, 2)]


def _job(**changes: Any) -> Json:
    """A room of 16 x 14 ft with an even fall and a hollow, 2 ft grid, elevations in inches."""
    heights = [round(-0.02 * x - (0.45 if 4 < x < 10 and 4 < y < 9 else 0.0), 3) for x, y in FEET]
    job: Json = {
        "name": "Invented sewing room",
        "units": {"length": "ft", "height": "in"},
        "rooms": [{"id": "sewing", "name": "Sewing room", "outline": [[0, 0], [16, 0], [16, 14], [0, 14]]}],
        "surveys": [
            {
                "id": "visit",
                "readings": [
                    {
                        "kind": "elevation",
                        "x": [x for x, _ in FEET],
                        "y": [y for _, y in FEET],
                        "value": heights,
                    }
                ],
            }
        ],
        "tolerance": {"rules": [{"length": "10 ft", "gap": "3/16 in"}]},
    }
    return job | changes


def _problem(estimate: Json, code: str) -> Json:
    return next(problem for problem in estimate["problems"] if problem["code"] == code)


def _newest(client: Client) -> list[Json]:
    items: list[Json] = client.http.get("/v1/estimates", params={"page_size": 1}).json()["items"]
    return items


def test_a_reading_outside_the_room_is_a_finding_that_names_its_row(client: Client) -> None:
    job = _job()
    columns = job["surveys"][0]["readings"][0]
    columns["x"][5] = 40
    estimate = client.estimate(job)
    problem = _problem(estimate, "reading-outside")
    assert estimate["state"] == "completed"
    assert problem["pointer"].endswith("/5")


def test_a_misread_by_an_inch_is_a_finding_that_names_its_row_and_the_floor_is_fitted_without_it(
    client: Client,
) -> None:
    job = _job()
    job["surveys"][0]["readings"][0]["value"][49] += 1.0
    estimate = client.estimate(job)
    problem = _problem(estimate, "misread")
    assert estimate["state"] == "completed"
    assert problem["pointer"] == "/surveys/0/readings/0/value/49"
    misreads = client.result(estimate, "surface", floor="sewing")["misreads"]
    assert [round(m["residual_m"] / 0.0254, 1) for m in misreads] == [pytest.approx(1.0, abs=0.15)]


def test_two_benchmarks_that_disagree_refuse_the_estimate_and_keep_the_readings(client: Client) -> None:
    job = _job(benchmarks=[{"id": "sill", "elevation": 0}, {"id": "hearth", "elevation": 2}])
    survey = job["surveys"][0]
    survey["setups"] = [{"id": "A"}]
    survey["sights"] = [
        {"setup": "A", "target": "sill", "rod": 40},
        {"setup": "A", "target": "hearth", "rod": 39},
    ]
    columns = survey["readings"][0]
    columns |= {"kind": "rod", "setup": "A", "value": [round(40 - v, 3) for v in columns["value"]]}
    estimate = client.estimate(job)
    assert estimate["state"] == "refused"
    assert "benchmarks-disagree" in codes(estimate, severity="refusal")
    detail = _problem(estimate, "benchmarks-disagree")["detail"]
    assert '25.4 mm (1")' in detail
    assert "re-shoot setup “A”" in detail


def test_a_missing_price_refuses_the_quote_and_names_what_is_missing(newcomer: Client) -> None:
    products = newcomer.post("/v1/catalogues", {"based_on": "starter", "compound": {"id": "winter-compound"}})
    assert products.status_code == 201, products.text
    estimate = newcomer.estimate(_job(catalogue=products.json()["id"]))
    assert estimate["state"] == "refused"
    assert codes(estimate, severity="refusal") == {"price-missing"}
    assert "winter-compound" in _problem(estimate, "price-missing")["detail"]
    assert newcomer.result(estimate, "takeoff")["lines"]


def test_a_threshold_that_no_correction_meets_is_refused_with_the_nearest_height(client: Client) -> None:
    job = copy.deepcopy(_job())
    job["rooms"][0]["openings"] = [
        {"id": "patio", "from": [0, 4], "to": [0, 7], "threshold": {"height": ["-3 in", "-2 in"]}}
    ]
    estimate = client.estimate(job)
    problem = _problem(estimate, "threshold-unmeetable")
    assert estimate["state"] == "refused"
    assert "patio" in problem["detail"]
    assert "nearest" in problem["detail"].lower()


@pytest.mark.parametrize(
    ("spoil", "pointer"),
    [
        (
            lambda job: job["rooms"][0].update(outline=[[0, 0], [16, 14], [16, 0], [0, 14]]),
            "/rooms/0/outline",
        ),
        (lambda job: job["units"].update(length="cubits"), "/units/length"),
        (lambda job: job.update(surveys=[]), "/surveys"),
        (lambda job: job["surveys"][0]["readings"][0]["x"].pop(), "/surveys/0/readings/0"),
    ],
    ids=["self-crossing room", "unknown unit", "empty survey", "unequal columns"],
)
def test_what_cannot_be_computed_is_refused_at_once_with_its_place(
    client: Client, spoil: Any, pointer: str
) -> None:
    job = _job()
    spoil(job)
    before = _newest(client)
    answer = client.post("/v1/estimates", job)
    assert 400 <= answer.status_code < 500
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert any(error["pointer"].startswith(pointer) for error in answer.json()["errors"]), answer.text
    assert _newest(client) == before
