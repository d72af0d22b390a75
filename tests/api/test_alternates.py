"""Alternates side by side, as office software asks for them and reads them."""

from decimal import Decimal
from typing import Any

import numpy as np
import pytest

from slab_core.stages import ALTERNATES, CHEAPEST, FILL_ONLY, GRIND_ONLY, LEVEL, PLANE
from tests.support.api import Firm, valid_job
from tests.support.own_worker import OwnWorker
from tests.support.problems import code_of, pointers_of
from tests.support.records import job_record, room_record, survey_record

PAIRS = [(PLANE, FILL_ONLY), (LEVEL, PLANE), (PLANE, CHEAPEST)]


def _hollow(**options: Any) -> dict[str, Any]:
    """The garden room with a hollow of an inch, which no grinder takes the rest down to."""
    job = valid_job(options={"grid_step": "0.15 m", **options})
    readings = job["surveys"][0]["readings"][0]
    readings["value"] = [46.2, 46.3, 46.3, 46.2, 46.4, 47.1, 47.2, 46.3, 46.2, 46.4, 46.3, 46.2]
    return job


def _finished(owner: Firm, worker: OwnWorker, job: dict[str, Any]) -> dict[str, Any]:
    posted = owner.post("/v1/estimates", job)
    assert posted.status_code == 202, posted.text
    assert posted.json()["alternates"] == []
    worker.work_off()
    estimate: dict[str, Any] = owner.client.get(posted.headers["location"]).json()
    return estimate


@pytest.mark.parametrize("asked", PAIRS)
def test_each_alternate_is_listed_with_what_it_comes_to(
    owner: Firm, worker: OwnWorker, asked: tuple[str, str]
) -> None:
    estimate = _finished(owner, worker, _hollow(alternates=asked))
    assert estimate["state"] == "completed", estimate["problems"]
    assert [each["alternate"] for each in estimate["alternates"]] == list(asked)
    path, totals = estimate["links"]["self"], {each["id"]: each for each in estimate["quotes"]}
    for each in estimate["alternates"]:
        name = each["alternate"]
        assert each["passes"], each
        assert not each["refused"]
        assert totals[each["quote_id"]]["alternate"] == name
        assert totals[each["quote_id"]]["total"] == each["total"]
        plan, days = (
            owner.client.get(f"{path}/{stage}?alternate={name}").json()["result"]
            for stage in ("correction", "schedule")
        )
        assert plan["alternate"] == name
        assert each["bags"] == plan["bags"] > 0  # of compound and of patch
        assert each["plan_cost"] == pytest.approx(plan["solve"]["objective"], abs=0.01)
        hours = plan["grinder_hours"] + plan["hand_grinder_hours"]
        assert each["grinding_hours"] == pytest.approx(hours, abs=0.01)
        assert (each["pour_days"], each["site_days"]) == (days["pour_days"], days["site_days"])
    main = owner.client.get(f"{path}/correction").json()
    assert main["alternate"] == asked[0]
    costs = {each["alternate"]: each["plan_cost"] for each in estimate["alternates"]}
    assert costs.get(CHEAPEST, 0.0) <= 1.002 * costs[PLANE]
    costs.pop(CHEAPEST, None)
    assert costs[PLANE] <= 1.002 * min(costs.values())


def test_an_alternate_that_cannot_be_done_is_refused_alone_and_says_why(
    owner: Firm, worker: OwnWorker
) -> None:
    estimate = _finished(owner, worker, _hollow(alternates=[PLANE, GRIND_ONLY, LEVEL]))
    assert estimate["state"] == "completed"
    plane, ground, level = estimate["alternates"]
    assert ground == {
        "alternate": GRIND_ONLY,
        "refused": True,
        "passes": False,
        **dict.fromkeys(
            ("plan_cost", "bags", "grinding_hours", "pour_days", "site_days", "total", "quote_id")
        ),
    }
    assert Decimal(plane["total"]["amount"]) > 0
    assert Decimal(level["total"]["amount"]) > 0
    assert [quote["alternate"] for quote in estimate["quotes"]] == [PLANE, LEVEL]
    (refusal,) = [problem for problem in estimate["problems"] if problem["severity"] == "refusal"]
    assert refusal["alternate"] == GRIND_ONLY
    assert "the alternate grind-only cannot be done on floor garden" in refusal["detail"]
    states = {(step["stage"], step["alternate"]): step["state"] for step in estimate["steps"]}
    assert states["correction", GRIND_ONLY] == "done"
    assert {states[stage, GRIND_ONLY] for stage in ("takeoff", "schedule", "quote")} == {"skipped"}
    path = estimate["links"]["self"]
    correction = owner.client.get(f"{path}/correction?alternate={GRIND_ONLY}").json()["result"]
    assert correction["solve"]["status"] == "infeasible"
    assert code_of(owner.client.get(f"{path}/quote?alternate={GRIND_ONLY}")) == "result-not-ready"
    missing = owner.client.get(f"{path}/quote?alternate={FILL_ONLY}")
    assert code_of(missing) == "not-found"
    assert "grind-only, level, plane" in missing.json()["detail"]


def test_a_main_alternate_that_cannot_be_done_refuses_the_estimate(owner: Firm, worker: OwnWorker) -> None:
    estimate = _finished(owner, worker, _hollow(alternates=[GRIND_ONLY, PLANE]))
    assert estimate["state"] == "refused"
    assert estimate["quotes"] == []
    assert [each["refused"] for each in estimate["alternates"]] == [True]


def test_another_alternate_computes_nothing_again_that_does_not_depend_on_it(
    firm: Firm, worker: OwnWorker
) -> None:
    options = {"pricing_date": "2026-03-02", "earliest_start": "2026-03-03T08:00:00-07:00"}
    _finished(firm, worker, _hollow(**options))
    both = _finished(firm, worker, _hollow(**options, alternates=[PLANE, LEVEL]))
    computed = {(step["stage"], step["alternate"]) for step in both["steps"] if step["ms"]}
    assert computed == {(stage, LEVEL) for stage in ("correction", "takeoff", "schedule", "quote")}


@pytest.mark.parametrize(
    ("alternates", "pointer"),
    [
        ([], "/options/alternates"),
        (["plane", "ramp"], "/options/alternates/1"),
        (["plane", "level", "plane"], "/options/alternates/2"),
        (["level"] * 7, "/options/alternates"),
        ("plane", "/options/alternates"),
        ([3], "/options/alternates/0"),
    ],
)
def test_wrong_alternates_are_refused_at_their_place(firm: Firm, alternates: Any, pointer: str) -> None:
    answer = firm.post("/v1/estimates", valid_job(options={"alternates": alternates}))
    assert answer.status_code == 422
    assert code_of(answer) == "invalid-document"
    assert pointer in pointers_of(answer)
    if isinstance(alternates, list) and 3 not in alternates:
        assert all(name in answer.json()["errors"][0]["detail"] for name in ALTERNATES)


def _door_height_mm(owner: Firm, estimate: dict[str, Any]) -> float:
    """The slab as found in the middle of the hall door, 4 ft 6 in along the wall; bilinear between nodes."""
    surface = owner.client.get(f"{estimate['links']['self']}/surface").json()
    nodes, heights = surface["nodes"], np.array(surface["result"]["height_mm"])
    across, up = (1.3716 - nodes["x0_m"]) / nodes["step_m"], -nodes["y0_m"] / nodes["step_m"]
    i, j = int(across), int(up)
    lower, upper = (row[i] + (across - i) * (row[i + 1] - row[i]) for row in heights[j : j + 2])
    return float(lower + (up - j) * (upper - lower))


@pytest.mark.parametrize(
    ("through", "height_mm"),
    [
        ([{"at": [4, 5], "height": "0.1 in"}], 2.54),
        ([{"at": [4, 5], "height": -0.3}, {"at": [8, 5], "height": -0.05}], -1.27),
        ([{"room": "garden", "opening": "hall door"}], None),
    ],
)
def test_a_level_slab_runs_through_the_highest_place_that_is_given(
    owner: Firm, worker: OwnWorker, through: list[Any], height_mm: float | None
) -> None:
    job = _hollow(alternates=[PLANE, LEVEL], level_through=through)
    job["rooms"][0]["openings"][0].pop("threshold")
    estimate = _finished(owner, worker, job)
    assert estimate["state"] == "completed"
    path = estimate["links"]["self"]
    plan = owner.client.get(f"{path}/correction?alternate=level").json()["result"]
    wanted = _door_height_mm(owner, estimate) if height_mm is None else height_mm
    assert plan["plane"][0] * 1e3 == pytest.approx(wanted, abs=0.02)
    assert plan["plane"][1:] == [0.0, 0.0]


@pytest.mark.parametrize(
    ("place", "pointer", "says"),
    [
        ({"at": [40, 5]}, "/options/level_through/0", "is on no floor"),
        ({"at": ["wide", 5]}, "/options/level_through/0/at/0", "wide"),
        ({"at": [4, 5], "height": "1 ell"}, "/options/level_through/0/height", "ell"),
        ({}, "/options/level_through/0", "either at"),
        ({"room": "garden"}, "/options/level_through/0", "either at"),
        ({"at": [4, 5], "room": "garden", "opening": "hall door"}, "/options/level_through/0", "either at"),
        ({"room": "attic", "opening": "hall door"}, "/options/level_through/0/room", "garden"),
        ({"room": "garden", "opening": "gate"}, "/options/level_through/0/opening", "hall door"),
    ],
)
def test_a_place_that_is_none_is_named_with_what_would_do(
    firm: Firm, place: Any, pointer: str, says: str
) -> None:
    options = {"alternates": ["plane", "level"], "level_through": [place]}
    answer = firm.post("/v1/estimates", valid_job(options=options))
    assert answer.status_code == 422
    assert pointers_of(answer) == [pointer]
    assert says in answer.json()["errors"][0]["detail"]


def test_places_without_the_level_alternate_are_not_passed_over(firm: Firm) -> None:
    answer = firm.post("/v1/estimates", valid_job(options={"level_through": [{"at": [4, 5]}]}))
    assert pointers_of(answer) == ["/options/level_through"]
    assert "'level'" in answer.json()["errors"][0]["detail"]


def test_a_job_s_record_is_estimated_by_alternates_too(firm: Firm, worker: OwnWorker) -> None:
    job = firm.post("/v1/jobs", job_record()).json()["id"]
    room = firm.post(f"/v1/jobs/{job}/rooms", room_record()).json()["id"]
    survey = firm.post(f"/v1/jobs/{job}/surveys", survey_record()).json()["id"]
    closed = firm.post(f"/v1/surveys/{survey}/close", {"chunks": 0})
    assert closed.status_code == 200, closed.text
    options = {
        "alternates": ["level", "plane"],
        "level_through": [{"room": room, "opening": "hall door"}],
    }
    posted = firm.post(f"/v1/jobs/{job}/estimates", {"options": options})
    assert posted.status_code == 202, posted.text
    worker.work_off()
    estimate = firm.client.get(posted.headers["location"]).json()
    assert estimate["state"] == "completed", estimate["problems"]
    assert [each["alternate"] for each in estimate["alternates"]] == ["level", "plane"]
