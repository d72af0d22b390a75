"""Every kind of reading over HTTP: in all units, with the place of every fault, and through the line."""

import copy
from collections.abc import Callable
from math import hypot
from typing import Any

import numpy as np
import pytest

from slab_app.codec import Encoded, decode
from slab_core.job import Job
from slab_core.surveys.model import Survey
from tests.support.api import Firm, Service, valid_job
from tests.support.own_worker import OwnWorker
from tests.support.problems import code_of, pointers_of
from tests.support.records import job_record, room_record

STAND = (2.0, 3.0)
SLOPE = 0.003
"""Inches per foot: a quarter of a millimetre per metre."""


def floor(x: float, y: float) -> float:
    """Inches above the door sill, at a place in feet."""
    return -0.3 - 0.02 * x + 0.01 * y


def rod(x: float, y: float) -> float:
    """Read from the stand with a line of sight that rises."""
    return 46.25 - floor(x, y) + SLOPE * hypot(x - STAND[0], y - STAND[1])


def every_kind() -> dict[str, Any]:
    """A survey in feet and inches of a plane floor, without noise."""
    places = [(x, y) for y in (1.0, 5.5, 10.0) for x in (1.0, 5.0, 9.0, 13.0)]
    return {
        "id": "second visit",
        "setups": [{"id": "A", "place": list(STAND)}],
        "sights": [{"setup": "A", "target": "door sill", "rod": 46.25 + SLOPE * 8, "distance": 8}],
        "peg_tests": [
            {
                "instrument": "optical-level",
                "middle": {
                    "rod_a": 50 + SLOPE * 50,
                    "rod_b": 53 + SLOPE * 50,
                    "distance_a": 50,
                    "distance_b": 50,
                },
                "near": {
                    "rod_a": 48 + SLOPE * 6,
                    "rod_b": 51 + SLOPE * 106,
                    "distance_a": 6,
                    "distance_b": 106,
                },
                "sd": 0.02,
            }
        ],
        "readings": [
            {
                "kind": "rod",
                "x": [x for x, _ in places],
                "y": [y for _, y in places],
                "value": [rod(x, y) for x, y in places],
                "position_sd": 0,
            }
        ],
        "gaps": [
            {
                "x0": [2, 4],
                "y0": [2, 8],
                "x1": [8, 10],
                "y1": [2, 8],
                "gap": [0, 0],
                "at": [0.5, 1],
                "rest0": [0.25, 0],
                "rest1": [0.75, 0.5],
            }
        ],
        "stretched_lines": [
            {
                "id": "long way",
                "from": [1, 3],
                "to": [13, 3],
                "from_height": 1.5,
                "to_height": 1.5,
                "distance": [3, 6, 9],
                "value": [1.5 - 0.03, 1.5 - 0.04, 1.5 - 0.03],
                "sag": 0.04,
                "end_sd": 0.005,
                "position_sd": 0.1,
            },
            {
                "id": "short way",
                "ends": "elevation",
                "from": [7, 1],
                "to": [7, 9],
                "from_height": 2,
                "to_height": 2,
                "distance": [2, 4],
                "value": [2 - floor(7, 3), 2 - floor(7, 5)],
                "sd": 0.03,
                "kg_per_metre": 0.001,
                "tension_n": 60,
            },
        ],
    }


_PLAN = {"x", "y", "x0", "y0", "x1", "y1", "distance", "distance_a", "distance_b", "from", "to", "place"}
_PLAN |= {"position_sd"}
_UNITLESS = {"at", "rest0", "rest1", "kg_per_metre", "tension_n", "id", "kind", "ends", "instrument"}
_UNITLESS |= {"setup", "target"}

Write = Callable[[float], Any]


def rewritten(value: Any, *, plan: Write, height: Write, name: str = "") -> Any:
    """The survey with every length written in another way."""
    if isinstance(value, dict):
        return {key: rewritten(item, plan=plan, height=height, name=key) for key, item in value.items()}
    if isinstance(value, list):
        return [rewritten(item, plan=plan, height=height, name=name) for item in value]
    if isinstance(value, str) or name in _UNITLESS:
        return value
    return (plan if name in _PLAN else height)(value)


def posted(service: Service, firm: Firm, survey: dict[str, Any], **units: str) -> Survey:
    """The survey as the line gets it."""
    answer = firm.post("/v1/estimates", valid_job(units=units, rooms=metric_rooms(), surveys=[survey]))
    assert answer.status_code == 202, answer.text
    with service.database.for_organisation(firm.organisation) as uow:
        stored = uow.runs.input(run_id=answer.json()["id"])
    assert stored is not None
    return decode(Job, Encoded(json=stored.json, arrays=stored.arrays)).surveys[0]


def metric_rooms() -> list[dict[str, Any]]:
    """The same room whatever the document's units are."""
    corners = [["0 ft", "0 ft"], ["14 ft 6 in", "0 ft"], ["14 ft 6 in", "11 ft"], ["0 ft", "11 ft"]]
    return [{"id": "garden", "name": "Garden room", "outline": corners}]


def numbers(value: Any) -> list[float]:
    """Every number of a model, in order."""
    if isinstance(value, np.ndarray | tuple | list):
        return [number for item in value for number in numbers(item)]
    if hasattr(value, "__dataclass_fields__"):
        return [number for field in value.__dataclass_fields__ for number in numbers(getattr(value, field))]
    return [float(value)] if isinstance(value, int | float | np.number) else []


@pytest.mark.parametrize(
    ("plan", "height", "units"),
    [
        (lambda v: v * 0.3048, lambda v: v * 0.0254, {"length": "m"}),
        (lambda v: v * 12, lambda v: v * 25.4, {"length": "in", "height": "mm"}),
        (lambda v: f"{v * 30.48:.9f} cm", lambda v: f"{v:.9f} in", {"length": "mm"}),
    ],
    ids=["metres", "inches and millimetres", "texts with units"],
)
def test_a_survey_means_the_same_in_all_units(
    service: Service, firm: Firm, plan: Write, height: Write, units: dict[str, str]
) -> None:
    expected = numbers(posted(service, firm, every_kind(), length="ft", height="in"))
    found = numbers(posted(service, firm, rewritten(every_kind(), plan=plan, height=height), **units))
    assert len(expected) > 100
    assert found == pytest.approx(expected, abs=1e-9)


def test_fields_that_are_left_out_take_the_usual_accuracy(service: Service, firm: Firm) -> None:
    survey = every_kind()
    del survey["peg_tests"][0]["sd"]
    got = posted(service, firm, survey, length="ft", height="in")
    assert [test.sd_m for test in got.peg_tests] == [0.0007]
    assert got.stretched_lines[0].sd_m.tolist() == [0.0008] * 3
    assert (got.stretched_lines[0].ends, got.stretched_lines[1].sag_m) == ("floor", None)
    assert got.setups[0].place == pytest.approx((0.6096, 0.9144))


def _put(*path: str | int, value: Any) -> Callable[[dict[str, Any]], None]:
    def change(survey: dict[str, Any]) -> None:
        where: Any = survey
        for part in path[:-1]:
            where = where[part]
        where[path[-1]] = value

    return change


_LINE = ("stretched_lines", 0)
_PEGS = ("peg_tests", 0)
_WRONG: dict[str, tuple[Callable[[dict[str, Any]], None], str]] = {
    "a peg rod that is none": (_put(*_PEGS, "near", "rod_b", value="high"), "/peg_tests/0/near/rod_b"),
    "a peg behind the level": (
        _put(*_PEGS, "middle", "distance_a", value=-5),
        "/peg_tests/0/middle/distance_a",
    ),
    "pegs without a base": (_put(*_PEGS, "near", "distance_b", value=6.5), "/peg_tests/0/near/distance_a"),
    "pegs mixed up": (_put(*_PEGS, "near", "rod_b", value=20), "/peg_tests/0"),
    "a check of nothing": (_put(*_PEGS, "instrument", value="line-laser"), "/peg_tests/0/instrument"),
    "half a check": (lambda survey: survey["peg_tests"][0].pop("near"), "/peg_tests/0/near"),
    "a stand on the moon": (_put("setups", 0, "place", value=[1e9, 0]), "/setups/0/place/0"),
    "a sight of miles": (_put("sights", 0, "distance", value=9000), "/sights/0/distance"),
    "a row off the line": (_put(*_LINE, "distance", 1, value=40), "/stretched_lines/0/distance/1"),
    "a row that is no length": (_put(*_LINE, "value", 2, value="x"), "/stretched_lines/0/value/2"),
    "a row too few": (
        lambda survey: survey["stretched_lines"][0]["value"].pop(),
        "/stretched_lines/0/value/2",
    ),
    "an accuracy below zero": (_put(*_LINE, "sd", value=[0.1, -0.1, 0.1]), "/stretched_lines/0/sd/1"),
    "a block below the floor": (_put(*_LINE, "from_height", value=-1), "/stretched_lines/0/from_height"),
    "a line without length": (_put(*_LINE, "to", value=[1, 3]), "/stretched_lines/0/to"),
    "a sag and a pull": (_put(*_LINE, "tension_n", value=50), "/stretched_lines/0/tension_n"),
    "a pull of nothing": (_put("stretched_lines", 1, "tension_n", value=0), "/stretched_lines/1/tension_n"),
    "a pull without a mass": (
        lambda survey: survey["stretched_lines"][1].pop("kg_per_metre"),
        "/stretched_lines/1/kg_per_metre",
    ),
    "ends in the air": (_put(*_LINE, "ends", value="wall"), "/stretched_lines/0/ends"),
    "a rest off its edge": (_put("gaps", 0, "rest0", 1, value=1.5), "/gaps/0/rest0/1"),
    "rests in the wrong order": (_put("gaps", 0, "rest1", 0, value=0.1), "/gaps/0/rest1/0"),
}


@pytest.mark.parametrize(("change", "where"), _WRONG.values(), ids=_WRONG.keys())
def test_what_cannot_be_is_refused_with_its_row_and_field(
    firm: Firm, change: Callable[[dict[str, Any]], None], where: str
) -> None:
    survey = copy.deepcopy(every_kind())
    change(survey)
    answer = firm.post("/v1/estimates", valid_job(surveys=[survey]))
    assert code_of(answer) == "invalid-document", answer.text
    assert pointers_of(answer) == [f"/surveys/0{where}"]
    assert firm.client.get("/v1/estimates").json()["items"] == []


def test_the_record_of_a_survey_is_refused_with_the_same_places(firm: Firm) -> None:
    job = firm.post("/v1/jobs", job_record()).json()["id"]
    survey = {name: value for name, value in every_kind().items() if name != "id"}
    survey["stretched_lines"][0]["to_height"] = "12 ft"
    answer = firm.post(f"/v1/jobs/{job}/surveys", survey)
    assert pointers_of(answer) == ["/stretched_lines/0/to_height"]
    # And when it is opened for chunks, before anything is read in it.
    bare = {name: survey[name] for name in ("setups", "peg_tests")}
    bare["peg_tests"][0]["near"]["rod_b"] = 20
    answer = firm.post(f"/v1/jobs/{job}/surveys", bare)
    assert pointers_of(answer) == ["/peg_tests/0"]


def test_all_kinds_together_go_through_the_line_and_the_line_of_sight_is_told(
    firm: Firm, worker: OwnWorker
) -> None:
    path = firm.post("/v1/estimates", valid_job(surveys=[every_kind()])).headers["location"]
    worker.work_off()
    estimate = firm.client.get(path).json()
    assert estimate["state"] == "completed", estimate["problems"]
    told = {problem["code"]: problem for problem in estimate["problems"]}
    assert told["collimation-too-large"]["pointer"] == "/surveys/0/peg_tests/0"
    assert "have the level adjusted" in told["collimation-too-large"]["detail"]
    assert "misread" not in told
    network = firm.client.get(estimate["links"]["surveys"]).json()["result"]
    (found,) = network["collimations"]
    assert (found["survey"], found["instrument"]) == ("second visit", "optical-level")
    assert found["slope"] == pytest.approx(SLOPE / 12)
    assert network["reading_count"] == 19
    (setup,) = network["setup_heights"]
    assert setup["height_m"] == pytest.approx(46.25 * 0.0254, abs=1e-6)
    surface = firm.client.get(estimate["links"]["surface"]).json()["result"]
    assert surface["misreads"] == []
    assert surface["readings_plane"]["slope_x"] == pytest.approx(-0.02 / 12, abs=1e-6)


def test_readings_that_come_in_chunks_are_corrected_like_the_survey_s_own(
    firm: Firm, worker: OwnWorker
) -> None:
    job = firm.post("/v1/jobs", job_record()).json()["id"]
    firm.post(f"/v1/jobs/{job}/rooms", room_record())
    survey = {name: value for name, value in every_kind().items() if name not in ("id", "readings")}
    path = firm.post(f"/v1/jobs/{job}/surveys", survey).headers["location"]
    chunk = firm.client.put(f"{path}/chunks/1", json=every_kind()["readings"][0])
    assert chunk.status_code == 200, chunk.text
    firm.client.post(f"{path}/close", json={"chunks": 1})
    path = firm.post(f"/v1/jobs/{job}/estimates", {}).headers["location"]
    worker.work_off()
    estimate = firm.client.get(path).json()
    assert estimate["state"] == "completed", estimate["problems"]
    surface = firm.client.get(estimate["links"]["surface"]).json()["result"]
    assert surface["readings_plane"]["slope_x"] == pytest.approx(-0.02 / 12, abs=1e-6)


def test_a_network_that_does_not_close_refuses_the_estimate_with_its_setup_and_keeps_the_readings(
    service: Service, firm: Firm, worker: OwnWorker
) -> None:
    survey = every_kind()
    survey["setups"].append({"id": "B"})
    survey["readings"][0]["setup"] = "A"
    # Half an inch is missed on the way from A over the bucket to B and back to the sill.
    survey["sights"] += [
        {"setup": "A", "target": "bucket", "rod": 40 + SLOPE * 5, "distance": 5},
        {"setup": "B", "target": "bucket", "rod": 41 + SLOPE * 4, "distance": 4},
        {"setup": "B", "target": "door sill", "rod": 46.75 + SLOPE * 6, "distance": 6},
    ]
    posted = firm.post("/v1/estimates", valid_job(surveys=[survey]))
    path = posted.headers["location"]
    worker.work_off()
    estimate = firm.client.get(path).json()
    assert estimate["state"] == "refused"
    (refused,) = [problem for problem in estimate["problems"] if problem["severity"] == "refusal"]
    assert (refused["code"], refused["pointer"]) == ("benchmarks-disagree", "/surveys/0/sights/0")
    assert '12.7 mm (1/2")' in refused["detail"]
    assert "re-shoot setup “A” or “B”" in refused["detail"]
    network = firm.client.get(estimate["links"]["surveys"]).json()["result"]
    assert [closure["setup"] for closure in network["closures"]] == ["A", "A", "B", "B"]
    assert network["largest_closure_m"] == pytest.approx(0.0127 / 4, rel=0.05)
    with service.database.for_organisation(firm.organisation) as uow:
        stored = uow.runs.input(run_id=posted.json()["id"])
    assert stored is not None
    kept = decode(Job, Encoded(json=stored.json, arrays=stored.arrays)).surveys[0]
    assert len(kept.readings[0].value_m) == 12
