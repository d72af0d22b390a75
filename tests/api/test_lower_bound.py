"""The price of realism, as a client sees it who asks for it."""

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


def _correction(owner: Firm, worker: OwnWorker, job: dict[str, Any]) -> dict[str, Any]:
    path = owner.post("/v1/estimates", job).headers["location"]
    worker.work_off()
    result: dict[str, Any] = owner.client.get(f"{path}/correction").json()["result"]
    return result


def test_an_estimate_that_asks_for_it_shows_the_cheapest_heights_beside_the_plan(
    owner: Firm, worker: OwnWorker
) -> None:
    result = _correction(owner, worker, _hollow(lower_bound=True))
    unrestricted = result["unrestricted"]
    assert unrestricted["status"] == "optimal"
    assert 0.0 < unrestricted["bound"] <= unrestricted["cost"] < result["solve"]["objective"]
    price = unrestricted["price_of_realism"]
    assert price == pytest.approx(result["solve"]["objective"] - unrestricted["cost"])
    assert unrestricted["node_spacing_m"] == pytest.approx(0.15)
    assert unrestricted["would_do"] == []


def test_it_is_null_where_nobody_asks(owner: Firm, worker: OwnWorker) -> None:
    assert _correction(owner, worker, _hollow())["unrestricted"] is None
