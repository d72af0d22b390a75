"""From an uploaded scan to the estimate: what is computed, what is refused, what is not computed again."""

from typing import Any
from uuid import uuid4

import numpy as np
import pytest

from slab_core.numerics.grid import Floats
from tests.support.api import Firm, Service
from tests.support.own_worker import OwnWorker
from tests.support.problems import code_of
from tests.support.scans import DEPTH_M, WIDTH_M, ScannedRoom, las_pieces, scanned_room

OCTETS = {"content-type": "application/octet-stream"}
JOB = {
    "name": "Scanned room",
    "units": {"length": "m"},
}


@pytest.fixture(scope="module")
def office(scanning: Service) -> Firm:
    return scanning.firm()


@pytest.fixture(scope="module")
def room() -> ScannedRoom:
    return scanned_room(points=400_000)


class Site:
    """A job with one survey and one room, unless others are given, made over HTTP."""

    def __init__(
        self,
        firm: Firm,
        scanner: OwnWorker,
        room: ScannedRoom,
        *,
        rule: str = "3/16 in",
        outlines: list[list[list[float]]] | None = None,
        **survey: Any,
    ) -> None:
        self.firm, self.scanner = firm, scanner
        job = {**JOB, "tolerance": {"rules": [{"length": "10 ft", "gap": rule}]}}
        self.job = firm.post("/v1/jobs", job).json()["id"]
        for outline in outlines or [room.outline]:
            firm.post(f"/v1/jobs/{self.job}/rooms", {"name": "Room", "outline": outline})
        self.survey = firm.post(f"/v1/jobs/{self.job}/surveys", survey).headers["location"]
        self.scans = 0

    def upload(self, content: Any, **facts: Any) -> str:
        """The scan's path."""
        path = f"{self.survey}/scans/{uuid4()}"
        answer = self.firm.client.put(path, content=content, headers=OCTETS)
        assert answer.status_code == 200, answer.text
        self.scans += 1
        if facts:
            self.say(path, **facts)
        return path

    def say(self, path: str, **facts: Any) -> None:
        tag = self.firm.client.get(path).headers["etag"]
        answer = self.firm.client.patch(path, json=facts, headers={"if-match": tag})
        assert answer.status_code == 200, answer.text

    def close(self) -> None:
        answer = self.firm.client.post(f"{self.survey}/close", json={"chunks": 0, "scans": self.scans})
        assert answer.status_code == 200, answer.text

    def estimate(self) -> dict[str, Any]:
        posted = self.firm.post(f"/v1/jobs/{self.job}/estimates", {})
        assert posted.status_code == 202, posted.text
        self.scanner.work_off()
        done: dict[str, Any] = self.firm.client.get(posted.headers["location"]).json()
        return done

    def result(self, estimate: dict[str, Any], stage: str, **query: str) -> dict[str, Any]:
        answer = self.firm.client.get(f"/v1/estimates/{estimate['id']}/{stage}", params=query)
        assert answer.status_code == 200, answer.text
        found: dict[str, Any] = answer.json()
        return found

    def outcome(self, content: Any, **facts: Any) -> dict[str, Any]:
        """What an estimate makes of one file."""
        self.upload(content, **facts)
        self.close()
        return self.estimate()


@pytest.fixture
def site(office: Firm, scanner: OwnWorker, room: ScannedRoom) -> Site:
    return Site(office, scanner, room)


def rms_mm(answer: dict[str, Any], room: ScannedRoom, *, add_m: float = 0.0) -> float:
    """How far the result's heights are from the truth, over the nodes on the floor."""
    nodes, result = answer["nodes"], answer["result"]
    xs = nodes["x0_m"] + nodes["step_m"] * np.arange(nodes["nx"])
    ys = nodes["y0_m"] + nodes["step_m"] * np.arange(nodes["ny"])
    truth = room.slab.height(*np.meshgrid(xs, ys)) + add_m
    inside = np.array(result["inside"], dtype=bool)
    return float(np.sqrt(np.mean((np.array(result["height_mm"]) - 1000 * truth)[inside] ** 2)))


def refusal(estimate: dict[str, Any]) -> dict[str, Any]:
    assert estimate["state"] == "refused", estimate["problems"]
    (problem,) = [found for found in estimate["problems"] if found["severity"] == "refusal"]
    return dict(problem)


def readings(room: ScannedRoom, *, count: int = 12, add_m: float = 0.0) -> dict[str, Any]:
    """Elevations by a level at places on the open floor."""
    rng = np.random.default_rng(3)
    x, y = rng.uniform(0.2, 1.4, count), rng.uniform(0.2, 3.8, count)
    z = room.slab.height(x, y) + rng.normal(0, 0.0005, count) + add_m
    columns = {"x": x.tolist(), "y": y.tolist(), "value": z.tolist()}
    return {"kind": "elevation", **columns, "sd": 0.0005, "position_sd": 0.01}


def test_a_scan_alone_goes_through_to_a_quote(site: Site, room: ScannedRoom) -> None:
    estimate = site.outcome(las_pieces(room.points))
    assert estimate["state"] == "completed", estimate["problems"]
    assert len(estimate["quotes"]) == 1
    assert {"scan-is-datum"} <= {problem["code"] for problem in estimate["problems"]}
    surface = site.result(estimate, "surface")
    assert rms_mm(surface, room) < 1.0
    assert np.array(surface["result"]["error_mm"]).min() >= 1.5
    scan = site.result(estimate, "scans")["result"]
    assert scan["points_read"] == len(room.points)
    assert scan["floors"][0]["cells_cleared"] > 0
    assert "blocks" not in scan["floors"][0]


def test_readings_by_level_decide_the_scans_height_and_the_offset_is_reported(
    office: Firm, scanner: OwnWorker, room: ScannedRoom
) -> None:
    site = Site(office, scanner, room, readings=[readings(room, add_m=2.5)])
    estimate = site.outcome(las_pieces(room.points))
    assert estimate["state"] == "completed", estimate["problems"]
    (height,) = site.result(estimate, "surveys")["result"]["scans"]
    assert height["readings"] == 12
    assert height["offset_m"] == pytest.approx(2.5, abs=3 * height["sd_m"])
    assert rms_mm(site.result(estimate, "surface"), room, add_m=2.5) < 1.0


def test_scans_are_registered_by_targets_and_the_error_is_reported(site: Site, room: ScannedRoom) -> None:
    """Two half rooms from two stands, in the coordinates of a country and of a scanner."""
    marks = {"A": (0.2, 0.3, 1.2), "B": (4.7, 0.4, 0.8), "C": (2.5, 3.7, 1.6)}
    left, right = room.points[room.points[:, 0] < 3.0], room.points[room.points[:, 0] > 2.0]
    far = _moved(left, turn=0.7, by=(482_113.25, 5_456_781.5, 312.0))
    near = _moved(right, turn=-2.1, by=(3.0, -4.0, -1.6))
    for points, turn, by, known in (
        (far, 0.7, (482_113.25, 5_456_781.5, 312.0), True),
        (near, -2.1, (3.0, -4.0, -1.6), False),
    ):
        targets = [
            {
                "id": id_,
                "scanned": _moved(np.array([place]), turn=turn, by=by)[0].tolist(),
                **({"site": list(place)} if known else {}),
            }
            for id_, place in marks.items()
        ]
        site.upload(las_pieces(points), targets=targets)
    site.close()
    estimate = site.estimate()
    assert estimate["state"] == "completed", estimate["problems"]
    heights = site.result(estimate, "surveys")["result"]["scans"]
    assert all(height["target_rms_m"] < 1e-4 for height in heights)
    (met,) = [met for height in heights for met in height["overlaps"]]
    assert abs(met["offset_m"]) < 2e-4
    assert met["rms_m"] < 1e-3
    assert rms_mm(site.result(estimate, "surface"), room) < 1.0


def test_one_scan_serves_two_floors_and_is_read_once(
    office: Firm, scanner: OwnWorker, room: ScannedRoom
) -> None:
    """A wall of 0.2 m across the room makes two floors of it."""
    halves = [[[a, 0.0], [b, 0.0], [b, DEPTH_M], [a, DEPTH_M]] for a, b in ((0.0, 2.2), (2.4, WIDTH_M))]
    site = Site(office, scanner, room, outlines=halves)
    estimate = site.outcome(las_pieces(room.points))
    assert estimate["state"] == "completed", estimate["problems"]
    assert [step["stage"] for step in estimate["steps"]].count("scans") == 1
    floors = [floor["id"] for floor in site.result(estimate, "rooms")["result"]["floors"]]
    assert len(floors) == 2
    for floor in floors:
        assert rms_mm(site.result(estimate, "surface", floor=floor), room) < 1.0


def test_a_floor_that_neither_scan_nor_readings_show_is_refused(
    office: Firm, scanner: OwnWorker, room: ScannedRoom
) -> None:
    beyond = [[30.0, 0.0], [33.0, 0.0], [33.0, 3.0], [30.0, 3.0]]
    site = Site(office, scanner, room, outlines=[room.outline, beyond])
    problem = refusal(site.outcome(_whole(room.points[:200_000])))
    assert problem["code"] == "floor-unmeasured"


def test_a_scan_cannot_prove_a_tight_rule_until_a_level_has_shown_how_good_it_is(
    office: Firm, scanner: OwnWorker, room: ScannedRoom
) -> None:
    rng = np.random.default_rng(5)
    x, y = rng.uniform(0, WIDTH_M, 300_000), rng.uniform(0, DEPTH_M, 300_000)
    flat = np.column_stack([x, y, 0.001 * x + rng.normal(0, 0.001, len(x))])
    content = _whole(flat)
    alone = Site(office, scanner, room, rule="1/16 in").outcome(content)
    assert "pass-not-proven" in {problem["code"] for problem in alone["problems"]}
    at = rng.uniform((0.2, 0.2), (WIDTH_M - 0.2, DEPTH_M - 0.2), (40, 2))
    height = 0.001 * at[:, 0] + rng.normal(0, 0.0003, 40)
    level = {"kind": "elevation", "x": at[:, 0].tolist(), "y": at[:, 1].tolist(), "value": height.tolist()}
    checked = Site(
        office, scanner, room, rule="1/16 in", readings=[{**level, "sd": 0.0003, "position_sd": 0.01}]
    )
    both = checked.outcome(content)
    assert both["state"] == "completed", both["problems"]
    (found,) = checked.result(both, "surveys")["result"]["scans"]
    assert found["bias_m"] < 0.0005
    assert "pass-not-proven" not in {problem["code"] for problem in both["problems"]}


def _moved(points: Floats, *, turn: float, by: tuple[float, float, float]) -> Floats:
    c, s = np.cos(turn), np.sin(turn)
    return points @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]]) + np.array(by)


def test_coordinates_of_a_country_lose_nothing(site: Site, room: ScannedRoom) -> None:
    corner = [482_113.25, 5_456_781.5, 1312.0]
    estimate = site.outcome(
        las_pieces(room.points + np.array(corner)), place={"scanned": corner, "site": [0, 0, 0]}
    )
    assert estimate["state"] == "completed", estimate["problems"]
    assert rms_mm(site.result(estimate, "surface"), room) < 1.0


def _whole(points: Floats, **changes: Any) -> bytes:
    return b"".join(las_pieces(points, **changes))


def test_a_file_that_is_cut_is_refused_with_what_is_missing_and_stays(site: Site, room: ScannedRoom) -> None:
    content = _whole(room.points[:50_000])
    path = site.upload(content[: len(content) // 2])
    site.close()
    problem = refusal(site.estimate())
    assert problem["code"] == "scan-file-truncated"
    assert "50,000 points" in problem["detail"]
    assert problem["pointer"] == "/surveys/0/scans/0"
    assert site.firm.client.get(path).json()["size_bytes"] == len(content) // 2


@pytest.mark.parametrize("claimed", [60_000, 4_294_967_295])
def test_a_header_that_states_more_points_than_there_are_is_refused(
    site: Site, room: ScannedRoom, claimed: int
) -> None:
    problem = refusal(site.outcome(_whole(room.points[:50_000], claimed=claimed)))
    assert problem["code"] == "scan-file-truncated"
    assert f"{claimed:,}" in problem["detail"]


def test_a_header_that_states_fewer_points_than_there_are_is_refused(site: Site, room: ScannedRoom) -> None:
    problem = refusal(site.outcome(_whole(room.points[:50_000], claimed=10_000)))
    assert problem["code"] == "scan-file-malformed"
    assert "50,000" in problem["detail"]


def test_a_scan_that_cannot_be_used_is_left_out_and_stays(site: Site, room: ScannedRoom) -> None:
    site.upload(las_pieces(room.points[:200_000]))
    broken = site.upload(b"LASF and nothing more")
    site.close()
    assert refusal(site.estimate())["pointer"] == "/surveys/0/scans/1"
    site.say(broken, use=False)
    estimate = site.estimate()
    assert estimate["state"] == "completed", estimate["problems"]
    assert site.firm.client.get(broken).json()["size_bytes"] == 21


def test_a_file_that_was_sent_twice_is_told_of(site: Site, room: ScannedRoom) -> None:
    content = _whole(room.points[:100_000])
    site.upload(content)
    site.upload(content)
    site.close()
    estimate = site.estimate()
    assert estimate["state"] == "completed", estimate["problems"]
    (twice,) = [problem for problem in estimate["problems"] if problem["code"] == "scan-repeated"]
    assert twice["pointer"] == "/surveys/0/scans/1"


def test_a_header_that_states_no_points_is_refused(site: Site, room: ScannedRoom) -> None:
    assert refusal(site.outcome(_whole(room.points[:50_000], claimed=0)))["code"] == "scan-file-empty"


def test_a_wrong_unit_is_refused_with_a_guess_and_put_right_without_a_second_upload(
    site: Site, room: ScannedRoom
) -> None:
    path = site.upload(_whole(room.points * 1000))
    site.close()
    problem = refusal(site.estimate())
    assert problem["code"] == "scan-unit-doubtful"
    assert "In mm it would fit" in problem["detail"]
    site.say(path, file_unit="mm")
    estimate = site.estimate()
    assert estimate["state"] == "completed", estimate["problems"]
    assert rms_mm(site.result(estimate, "surface"), room) < 1.0


def test_a_scan_beside_the_floor_is_refused(site: Site, room: ScannedRoom) -> None:
    problem = refusal(site.outcome(_whole(room.points[:50_000] + np.array([40.0, 0.0, 0.0]))))
    assert problem["code"] == "scan-outside-floor"


def test_a_scan_without_a_floor_is_refused(site: Site) -> None:
    """Nothing but points anywhere between floor and ceiling, as in a room full of leaves."""
    points = np.random.default_rng(1).uniform((0, 0, 0), (5, 4, 2.4), (200_000, 3))
    assert refusal(site.outcome(_whole(points)))["code"] == "scan-without-floor"


def test_lines_that_are_no_points_are_refused_with_the_line(site: Site) -> None:
    problem = refusal(site.outcome(b"1 2 3\n4 five 6\n"))
    assert problem["code"] == "scan-file-malformed"
    assert "Line 2 " in problem["detail"]


def test_targets_that_place_no_scan_refuse_the_estimate(site: Site, room: ScannedRoom) -> None:
    lone = [{"id": "A", "scanned": [0, 0, 0], "site": [0, 0, 0]}]
    assert refusal(site.outcome(_whole(room.points[:50_000]), targets=lone))["code"] == "scan-targets-too-few"


def _computed(estimate: dict[str, Any]) -> set[str]:
    return {step["stage"] for step in estimate["steps"] if step["ms"]}


def test_only_what_changed_is_computed_again(office: Firm, scanner: OwnWorker, room: ScannedRoom) -> None:
    site = Site(office, scanner, room)
    path = site.upload(_whole(room.points[:200_000]))
    site.close()
    first = site.estimate()
    assert first["state"] == "completed", first["problems"]
    assert _computed(site.estimate()) == set()
    site.say(path, bias="1 mm")
    assert _computed(site.estimate()) & {"rooms", "scans", "layout"} == set()
    site.say(path, name="Seen from the door")
    assert _computed(site.estimate()) == set()
    site.say(path, place={"scanned": [0, 0, 0], "site": [0, 0, 0.1]})
    assert {"scans", "surveys", "surface"} <= _computed(site.estimate())


def test_an_estimate_without_scans_says_that_it_has_none(
    office: Firm, scanner: OwnWorker, room: ScannedRoom
) -> None:
    site = Site(office, scanner, room, readings=[readings(room)])
    site.close()
    estimate = site.estimate()
    assert "scans" not in {step["stage"] for step in estimate["steps"]}
    missing = office.client.get(f"/v1/estimates/{estimate['id']}/scans")
    assert code_of(missing) == "not-found"
    assert "no scans" in missing.json()["detail"]
