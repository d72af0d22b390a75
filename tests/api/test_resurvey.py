"""A job measured again while its work goes on: what is left, what was reached, and what it is refused for."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import numpy as np
import pytest

from tests.api.test_alternates import _finished
from tests.sample_jobs import hump_and_hollow
from tests.support.api import Firm, Service
from tests.support.own_worker import OwnWorker
from tests.support.problems import code_of, pointers_of
from tests.support.records import job_record, room_record, survey_record

Heights = Callable[[np.ndarray, np.ndarray], np.ndarray]
X, Y = (axis.ravel() for axis in np.meshgrid(np.linspace(0.1, 5.9, 16), np.linspace(0.1, 4.9, 13)))


def _survey(id: str, heights: Heights, **more: Any) -> dict[str, Any]:
    value = [round(float(z), 5) for z in heights(X, Y)]
    readings = {"x": X.tolist(), "y": Y.tolist(), "value": value, "sd": "0.5 mm", "position_sd": "10 mm"}
    return {"id": id, "readings": [readings], **more}


def _job(*surveys: dict[str, Any], **more: Any) -> dict[str, Any]:
    return {
        "name": "Studio, Alder Lane",
        "units": {"length": "m"},
        "tolerance": {"rules": [{"length": "10 ft", "gap": "3/16 in"}]},
        "scope": {"removal": "carpet"},
        "rooms": [{"id": "studio", "name": "Studio", "outline": [[0, 0], [6, 0], [6, 5], [0, 5]]}],
        "surveys": [_survey("first visit", hump_and_hollow), *surveys],
        "options": {"grid_step": "0.15 m", "pricing_date": "2026-03-02"},
        **more,
    }


@pytest.fixture(scope="module")
def first(owner: Firm, worker: OwnWorker) -> dict[str, Any]:
    """The estimate that work begins with."""
    estimate = _finished(owner, worker, _job())
    assert estimate["state"] == "completed", estimate["problems"]
    return estimate


def _result(owner: Firm, estimate: dict[str, Any], stage: str) -> dict[str, Any]:
    answer: dict[str, Any] = owner.client.get(estimate["links"][stage]).json()["result"]
    return answer


@pytest.fixture(scope="module")
def plane(owner: Firm, first: dict[str, Any]) -> Heights:
    """The heights that the first plan leads to."""
    height, slope_x, slope_y = _result(owner, first, "correction")["plane"]
    return lambda x, y: height + slope_x * x + slope_y * y


def _ground(plane: Heights) -> Heights:
    return lambda x, y: np.minimum(hump_and_hollow(x, y), plane(x, y))


def _follows(first: dict[str, Any], **more: Any) -> dict[str, Any]:
    return {"estimate": first["id"], **more}


def _codes(estimate: dict[str, Any]) -> set[str]:
    return {problem["code"] for problem in estimate["problems"]}


def test_after_grinding_the_pours_are_left_to_the_same_pins(
    owner: Firm, worker: OwnWorker, first: dict[str, Any], plane: Heights
) -> None:
    again = _survey("after grinding", _ground(plane), after=["studio-grinding"])
    estimate = _finished(owner, worker, _job(again, follows=_follows(first)))
    assert estimate["state"] == "completed", estimate["problems"]
    assert "readings-superseded" in _codes(estimate)
    before, now = _result(owner, first, "correction"), _result(owner, estimate, "correction")
    assert now["passes"]
    progress = now["progress"]
    assert (progress["round"], progress["heights_kept"]) == (2, True)
    states = {work["id"]: work["done"] for work in progress["works"]}
    assert states == {
        **{area["id"]: True for area in before["grind_areas"]},
        **{pour["id"]: False for pour in before["pours"]},
    }
    assert [pour["id"] for pour in now["pours"]] == [pour["id"] for pour in before["pours"]]
    tips = [[pin["height_m"] for pour in plan["pours"] for pin in pour["pins"]] for plan in (before, now)]
    assert tips[0] == tips[1]
    assert progress["done"]["grinder_hours"] == pytest.approx(before["grinder_hours"])
    assert now["grinder_hours"] < 0.5 * before["grinder_hours"]


def test_what_is_done_is_not_taken_off_or_priced_again(
    owner: Firm, worker: OwnWorker, first: dict[str, Any], plane: Heights
) -> None:
    again = _survey("after grinding", _ground(plane), after=["studio-grinding"])
    estimate = _finished(owner, worker, _job(again, follows=_follows(first)))
    before, now = (
        {line["key"]["code"] for line in _result(owner, one, "takeoff")["lines"]} for one in (first, estimate)
    )
    assert {"tear-out", "survey", "base-off", "removal", "containment"} <= before
    assert now.isdisjoint({"tear-out", "survey", "base-off", "removal", "containment"})
    assert {"pour", "bond-grind", "spread", "boards"} <= now
    totals = [Decimal(one["alternates"][0]["total"]["amount"]) for one in (first, estimate)]
    assert totals[1] < totals[0]


def test_a_floor_that_shows_what_was_planned_leaves_nothing_to_correct(
    owner: Firm, worker: OwnWorker, first: dict[str, Any], plane: Heights
) -> None:
    again = _survey("after the pour", plane, after=["studio-grinding", "studio-pours"])
    estimate = _finished(owner, worker, _job(again, follows=_follows(first)))
    now = _result(owner, estimate, "correction")
    assert (now["solve"]["status"], now["bags"], now["grinder_hours"]) == ("not-needed", 0, 0)
    assert now["progress"]["left"]["grind_m3"] == 0
    pins = [pin for work in now["progress"]["works"] for pin in work["pins"]]
    assert pins
    # The survey shows the plane itself; the first one's readings beside the work are off by their own errors.
    assert [pin for pin in pins if abs(pin["off_m"]) > 3.3 * pin["sd_m"]] == []
    codes = {line["key"]["code"] for line in _result(owner, estimate, "takeoff")["lines"]}
    assert codes.isdisjoint({"grind", "pour", "compound", "prime", "pins", "bond-grind"})
    assert "spread" in codes


def test_a_second_plan_for_what_is_left_follows_the_first(
    owner: Firm, worker: OwnWorker, first: dict[str, Any], plane: Heights
) -> None:
    ground = _survey("after grinding", _ground(plane), after=["studio-grinding"])
    second = _finished(owner, worker, _job(ground, follows=_follows(first)))
    pours = [pour["id"] for pour in _result(owner, second, "correction")["pours"]]
    poured = _survey("after the pour", plane, after=pours)
    third = _finished(owner, worker, _job(ground, poured, follows=_follows(second)))
    assert third["state"] == "completed", third["problems"]
    now = _result(owner, third, "correction")
    assert now["progress"]["round"] == 3
    assert now["bags"] == 0
    done = now["progress"]["done"]["grinder_hours"]
    assert done >= _result(owner, first, "correction")["grinder_hours"] * 0.999


@pytest.mark.parametrize(
    ("changes", "after", "pointer", "words"),
    [
        ({}, ["studio-bay9-lift1"], "/surveys/1/after/0", "no work"),
        ({"alternate": "level"}, ["studio-grinding"], "/follows/alternate", "it has plane"),
        ({"done": ["polishing"]}, ["studio-grinding"], "/follows/done/0", "no kind of work"),
        (
            {"estimate": "0199d3a2-5a00-7000-8000-000000000009"},
            ["studio-grinding"],
            "/follows/estimate",
            "no estimate",
        ),
    ],
)
def test_what_cannot_be_followed_is_refused_by_its_place(
    owner: Firm,
    first: dict[str, Any],
    plane: Heights,
    changes: dict[str, Any],
    after: list[str],
    pointer: str,
    words: str,
) -> None:
    again = _survey("again", plane, after=after)
    answer = owner.post("/v1/estimates", _job(again, follows=_follows(first, **changes)))
    assert (answer.status_code, code_of(answer)) == (422, "invalid-document")
    assert pointer in pointers_of(answer)
    assert words in answer.text


def test_work_without_a_plan_to_follow_is_refused(owner: Firm, plane: Heights) -> None:
    answer = owner.post("/v1/estimates", _job(_survey("again", plane, after=["studio-grinding"])))
    assert answer.status_code == 422
    assert pointers_of(answer) == ["/surveys/1/after/0"]


def test_other_alternates_and_a_confidence_are_refused(
    owner: Firm, first: dict[str, Any], plane: Heights
) -> None:
    again = _survey("again", plane, after=["studio-grinding"])
    options = {"alternates": ["level"], "confidence": 0.9}
    answer = owner.post("/v1/estimates", _job(again, follows=_follows(first), options=options))
    assert answer.status_code == 422
    assert {"/options/alternates", "/options/confidence"} <= set(pointers_of(answer))


def test_other_rooms_are_another_job(owner: Firm, first: dict[str, Any], plane: Heights) -> None:
    job = _job(_survey("again", plane, after=["studio-grinding"]), follows=_follows(first))
    job["rooms"][0]["outline"][1][0] = 5.95
    answer = owner.post("/v1/estimates", job)
    assert answer.status_code == 422
    assert "/follows/estimate" in pointers_of(answer)
    assert "other rooms" in answer.text


def test_an_estimate_of_another_job_is_not_followed(owner: Firm, first: dict[str, Any]) -> None:
    job = owner.post("/v1/jobs", job_record()).json()["id"]
    owner.post(f"/v1/jobs/{job}/rooms", room_record())
    survey = owner.post(f"/v1/jobs/{job}/surveys", survey_record()).json()["id"]
    owner.post(f"/v1/surveys/{survey}/close", {"chunks": 0})
    answer = owner.post(f"/v1/jobs/{job}/estimates", {"follows": _follows(first)})
    assert answer.status_code == 422, answer.text
    assert "/follows/estimate" in pointers_of(answer)
    assert "another job" in answer.text


def test_another_firms_estimate_is_not_there_to_be_followed(
    service: Service, first: dict[str, Any], plane: Heights
) -> None:
    stranger = service.firm()
    again = _survey("again", plane, after=["studio-grinding"])
    answer = stranger.post("/v1/estimates", _job(again, follows=_follows(first)))
    assert answer.status_code == 422
    assert "there is no estimate" in answer.text


def test_a_survey_that_reads_none_of_the_work_it_names_refuses_the_estimate(
    owner: Firm, worker: OwnWorker, first: dict[str, Any]
) -> None:
    x = {"x": [0.1, 0.3, 0.1], "y": [0.1, 0.1, 0.3], "value": [0.0, 0.0, 0.0]}
    areas = _result(owner, first, "correction")["grind_areas"]
    again = {"id": "again", "readings": [x], "after": [areas[0]["id"]]}
    estimate = _finished(owner, worker, _job(again, follows=_follows(first)))
    assert estimate["state"] == "refused"
    (problem,) = [one for one in estimate["problems"] if one["code"] == "worked-area-unread"]
    assert problem["pointer"] == "/surveys/1/after"


def _accepted(owner: Firm, service: Service, estimate: dict[str, Any]) -> str:
    quote: str = estimate["links"]["quotes"][0]
    until = (datetime.now(UTC) + timedelta(days=20)).date().isoformat()
    sent = owner.post(f"{quote}/send", {"valid_until": until})
    assert sent.status_code == 201, sent.text
    with service.client() as customer:
        assert customer.post(f"{sent.json()['link']}/accept", json={"name": "R. Amsel"}).status_code == 200
    return quote


def test_work_that_went_as_planned_changes_no_line_of_what_was_accepted_but_what_the_slab_changed(
    owner: Firm, worker: OwnWorker, service: Service, plane: Heights
) -> None:
    first = _finished(owner, worker, _job(options={"grid_step": "0.15 m", "pricing_date": "2026-03-02"}))
    quote = _accepted(owner, service, first)
    again = _survey("after the pour", plane, after=["studio-grinding", "studio-pours"])
    rest = _finished(owner, worker, _job(again, follows=_follows(first)))
    wanted = rest["links"]["quotes"][0].rpartition("/")[2]
    answer = owner.post(f"{quote}/change-orders", {"quote": wanted})
    assert answer.status_code == 201, answer.text
    change = answer.json()["document"]["change"]
    before = owner.client.get(quote).json()
    assert change["total_before"] == before["total"]
    changed = {line["key"].split("/")[0]: line for line in change["lines"]}
    untouched = {"tear-out", "pour", "compound", "grind", "bond-grind", "boards", "spread", "survey", "clean"}
    assert untouched.isdisjoint(changed)
    assert abs(Decimal(change["total"]["amount"])) < Decimal("0.03") * Decimal(before["total"]["amount"])


def test_what_is_left_changes_only_the_quote_of_the_plan_that_was_followed(
    owner: Firm, worker: OwnWorker, service: Service, first: dict[str, Any], plane: Heights
) -> None:
    other = _finished(owner, worker, _job(name="Studio, Alder Lane, again"))
    quote = _accepted(owner, service, other)
    again = _survey("after the pour", plane, after=["studio-grinding", "studio-pours"])
    rest = _finished(owner, worker, _job(again, follows=_follows(first)))
    wanted = rest["links"]["quotes"][0].rpartition("/")[2]
    answer = owner.post(f"{quote}/change-orders", {"quote": wanted})
    assert code_of(answer) == "quotes-apart"
    assert "what is left of the work of estimate" in answer.text


def test_boards_wait_until_what_was_poured_is_dry(
    owner: Firm, worker: OwnWorker, first: dict[str, Any], plane: Heights
) -> None:
    again = _survey("after the pour", plane, after=["studio-grinding", "studio-pours"])
    options = {"grid_step": "0.15 m", "earliest_start": "2026-03-03T08:00:00Z"}
    finish = []
    for poured in (None, "2026-03-03T07:00:00Z", "2026-02-03T07:00:00Z"):
        follows = _follows(first, **({"last_pour_at": poured} if poured else {}))
        estimate = _finished(owner, worker, _job(again, follows=follows, options=options))
        finish.append(_result(owner, estimate, "schedule")["finish_at"])
    unknown, fresh, dry = finish
    assert dry < fresh <= unknown


def test_what_was_ground_too_little_is_more_grinding_in_the_change_order(
    owner: Firm, worker: OwnWorker, service: Service
) -> None:
    first = _finished(owner, worker, _job(name="Studio, Alder Lane, hard hump"))
    quote = _accepted(owner, service, first)
    untouched = _survey("after grinding", hump_and_hollow, after=["studio-grinding"])
    rest = _finished(owner, worker, _job(untouched, follows=_follows(first)))
    assert "ground-too-little" in _codes(rest)
    wanted = rest["links"]["quotes"][0].rpartition("/")[2]
    change = owner.post(f"{quote}/change-orders", {"quote": wanted}).json()["document"]["change"]
    grind = next(
        line for line in change["lines"] if line["key"].startswith("grind/") and line["unit"] == "PH"
    )
    assert Decimal(grind["quantity_after"]) > Decimal(grind["quantity_before"])
    assert "done as accepted" in grind["reason"]
    assert Decimal(change["total"]["amount"]) > 0


def test_a_jobs_record_is_measured_again_too(owner: Firm, worker: OwnWorker, plane: Heights) -> None:
    job = {name: value for name, value in _job().items() if name not in ("rooms", "surveys", "options")}
    path = owner.post("/v1/jobs", job).headers["location"]
    room = owner.post(f"{path}/rooms", {"name": "Studio", "outline": [[0, 0], [6, 0], [6, 5], [0, 5]]})
    floor = room.json()["id"]

    def closed(heights: Heights, **more: Any) -> None:
        survey = {name: value for name, value in _survey("", heights, **more).items() if name != "id"}
        made = owner.post(f"{path}/surveys", survey)
        assert made.status_code == 201, made.text
        assert owner.post(f"{made.headers['location']}/close", {"chunks": 0}).status_code == 200

    def estimated(**more: Any) -> dict[str, Any]:
        posted = owner.post(f"{path}/estimates", {"options": {"grid_step": "0.15 m"}, **more})
        assert posted.status_code == 202, posted.text
        worker.work_off()
        estimate: dict[str, Any] = owner.client.get(posted.headers["location"]).json()
        return estimate

    closed(hump_and_hollow)
    first = estimated()
    closed(_ground(plane), after=[f"{floor}-grinding"])
    refused = owner.post(f"{path}/estimates", {})
    assert (refused.status_code, pointers_of(refused)) == (422, ["/surveys/1/after/0"])
    again = estimated(follows=_follows(first))
    assert again["state"] == "completed", again["problems"]
    progress = _result(owner, again, "correction")["progress"]
    assert {work["done"] for work in progress["works"] if work["kind"] == "grind"} == {True}
