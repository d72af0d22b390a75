"""A job that is scanned while its work goes on: what a scan after a pour shows, of a floor or a part."""

from collections.abc import Callable
from typing import Any
from uuid import uuid4

import numpy as np
import pytest

from slab_core.numerics.grid import Floats
from tests.api.test_resurvey import X, Y
from tests.support.api import Firm, Service
from tests.support.own_worker import OwnWorker
from tests.support.scans import las_pieces

Heights = Callable[[Floats, Floats], Floats]
OCTETS = {"content-type": "application/octet-stream"}
WIDE_M, LONG_M = 6.0, 5.0


def low_plateau(x: Floats, y: Floats) -> Floats:
    """Over two thirds of the room a slab 15 mm too low, so that most readings lie where it is filled."""
    return np.asarray(0.0075 * np.tanh((x - 4.0) / 0.3) - 0.0075, dtype=np.float64)


class Site:
    """A job's record with a first survey by level, its first estimate, and scans of the slab later on."""

    def __init__(self, firm: Firm, worker: OwnWorker) -> None:
        self.firm, self.worker = firm, worker
        job = {
            "name": "Studio, Alder Lane",
            "units": {"length": "m"},
            "tolerance": {"rules": [{"length": "10 ft", "gap": "3/16 in"}]},
        }
        self.path = firm.post("/v1/jobs", job).headers["location"]
        outline = [[0, 0], [WIDE_M, 0], [WIDE_M, LONG_M], [0, LONG_M]]
        self.floor = firm.post(f"{self.path}/rooms", {"name": "Studio", "outline": outline}).json()["id"]
        value = [round(float(z), 5) for z in low_plateau(X, Y)]
        readings = {"x": X.tolist(), "y": Y.tolist(), "value": value, "sd": "0.5 mm", "position_sd": "10 mm"}
        self.close(self.survey(readings=[readings]))
        self.first = self.estimate()
        assert self.first["state"] == "completed", self.first["problems"]
        self.plan = self.result(self.first, "correction")

    def survey(self, **survey: Any) -> str:
        path: str = self.firm.post(f"{self.path}/surveys", survey).headers["location"]
        return path

    def close(self, survey: str, *, scans: int = 0) -> None:
        answer = self.firm.client.post(f"{survey}/close", json={"chunks": 0, "scans": scans})
        assert answer.status_code == 200, answer.text

    def estimate(self, **more: Any) -> dict[str, Any]:
        posted = self.firm.post(f"{self.path}/estimates", {"options": {"grid_step": "0.15 m"}, **more})
        assert posted.status_code == 202, posted.text
        self.worker.work_off()
        done: dict[str, Any] = self.firm.client.get(posted.headers["location"]).json()
        return done

    def result(self, estimate: dict[str, Any], stage: str) -> dict[str, Any]:
        answer: dict[str, Any] = self.firm.client.get(f"/v1/estimates/{estimate['id']}/{stage}").json()
        found: dict[str, Any] = answer["result"]
        return found

    def finished_m(self, x: Floats, y: Floats) -> Floats:
        """The height that the first plan leads to."""
        height, slope_x, slope_y = self.plan["plane"]
        return np.asarray(height + slope_x * x + slope_y * y)

    def scanned(
        self, heights: Heights, *, to_m: float = LONG_M, after: list[str], tied: bool = True
    ) -> dict[str, Any]:
        """The estimate of what is left, once the room has been scanned up to y = `to_m`; `tied` to the first
        heights by some readings of the same day."""
        rng = np.random.default_rng(4)
        x, y = rng.uniform(0.0, WIDE_M, 200_000), rng.uniform(0.0, to_m, 200_000)
        points = np.column_stack([x, y, heights(x, y) - 1.4 + rng.normal(0.0, 0.0015, len(x))])
        x, y = (axis.ravel() for axis in np.meshgrid([1.0, 3.0, 5.0], [0.3, 0.7]))
        told = {"x": x.tolist(), "y": y.tolist(), "value": heights(x, y).round(5).tolist(), "sd": "0.5 mm"}
        survey = self.survey(after=after, **({"readings": [told]} if tied else {}))
        sent = self.firm.client.put(f"{survey}/scans/{uuid4()}", content=las_pieces(points), headers=OCTETS)
        assert sent.status_code == 200, sent.text
        self.close(survey, scans=1)
        return self.estimate(follows={"estimate": self.first["id"]})

    def everything(self) -> list[str]:
        """Names of all work of the first plan."""
        parts = [*self.plan["grind_areas"], *self.plan["pours"], *self.plan["patches"]]
        return [part["id"] for part in parts]


@pytest.fixture
def site(scanning: Service, scanner: OwnWorker) -> Site:
    return Site(scanning.firm(), scanner)


def _far_end_m(pour: dict[str, Any]) -> float:
    return float(max(y for _, y in pour["outline"]))


def codes(estimate: dict[str, Any]) -> set[str]:
    return {problem["code"] for problem in estimate["problems"]}


def test_a_scan_after_all_pours_leaves_nothing_to_fill(site: Site) -> None:
    assert len(site.plan["pours"]) > 1
    estimate = site.scanned(site.finished_m, after=site.everything())
    assert estimate["state"] == "completed", estimate["problems"]
    assert "readings-superseded" in codes(estimate)
    now = site.result(estimate, "correction")
    assert now["passes"]
    assert now["bags"] == 0
    assert all(work["done"] for work in now["progress"]["works"])
    for work in now["progress"]["works"]:
        assert work["reached_m3"] == pytest.approx(work["planned_m3"], rel=0.1, abs=0.002)


def test_a_scan_of_a_part_tells_that_part_and_the_rest_stays_as_it_was_read(site: Site) -> None:
    """Poured are the bays that lie in the scanned part alone."""
    poured = [pour for pour in site.plan["pours"] if _far_end_m(pour) < LONG_M / 2 + 0.2]
    assert 0 < len(poured) < len(site.plan["pours"])
    to_m = max(map(_far_end_m, poured))
    estimate = site.scanned(site.finished_m, to_m=to_m, after=[pour["id"] for pour in poured])
    assert estimate["state"] == "completed", estimate["problems"]
    assert "scan-covers-part" in codes(estimate)
    now = site.result(estimate, "correction")
    left = {pour["id"] for pour in now["pours"]}
    assert left == {pour["id"] for pour in site.plan["pours"]} - {pour["id"] for pour in poured}


def test_a_scan_that_nothing_ties_to_the_plan_refuses_the_estimate(site: Site) -> None:
    everywhere = {"fill_m2", "grind_m2"}
    assert sum(site.plan[key] for key in everywhere) >= WIDE_M * LONG_M
    estimate = site.scanned(site.finished_m, after=site.everything(), tied=False)
    assert estimate["state"] == "refused"
    (refusal,) = [problem for problem in estimate["problems"] if problem["code"] == "scan-untied"]
    assert refusal["pointer"] == "/surveys/1/scans/0"
    assert "readings by level" in refusal["detail"]


def test_a_scan_that_shows_none_of_the_work_that_it_names_refuses_the_estimate(site: Site) -> None:
    far = max(site.plan["pours"], key=_far_end_m)["id"]
    estimate = site.scanned(low_plateau, to_m=1.0, after=[far])
    assert estimate["state"] == "refused"
    assert "worked-area-unread" in codes(estimate)
