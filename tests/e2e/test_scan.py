"""A laser scan from its upload to the fitted surface and the quote, through the running service.

The room is invented; its true height is known everywhere. plane.laz: source and licence in
tests/reference/data/README.md. What is fitted to it is held against means of the points themselves.
"""

import base64
import hashlib
from collections.abc import Iterator
from pathlib import Path
from uuid import uuid4

import laspy
import numpy as np
import pytest

from slab_core.numerics.grid import Floats
from tests.e2e.client import Client, Json, codes
from tests.support.scans import TABLE, ScannedRoom, las_pieces, scanned_room

SCAN = Path(__file__).parents[1] / "reference/data/plane.laz"
JOB = {
    "name": "Scanned room",
    "units": {"length": "m"},
    "tolerance": {"rules": [{"length": "10 ft", "gap": "3/16 in"}]},
}


def _estimate(client: Client, *, outline: list[list[float]], pieces: Iterator[bytes], facts: Json) -> Json:
    """The estimate of one room with one scan, which is streamed piece by piece."""
    job = client.post("/v1/jobs", JOB).json()["id"]
    assert client.post(f"/v1/jobs/{job}/rooms", {"name": "Room", "outline": outline}).status_code == 201
    survey = client.post(f"/v1/jobs/{job}/surveys", {}).json()["id"]
    path = f"/v1/surveys/{survey}/scans/{uuid4()}"
    sent = hashlib.sha256()

    def streamed() -> Iterator[bytes]:
        for piece in pieces:
            sent.update(piece)
            yield piece

    answer = client.http.put(path, content=streamed(), headers={"Content-Type": "application/octet-stream"})
    assert answer.status_code == 200, answer.text
    assert answer.json()["content_digest"] == f"sha-256=:{base64.b64encode(sent.digest()).decode()}:"
    if facts:
        said = client.http.patch(path, json=facts, headers={"If-Match": '"v1"'})
        assert said.status_code == 200, said.text
    assert client.post(f"/v1/surveys/{survey}/close", {"chunks": 0, "scans": 1}).status_code == 200
    posted = client.post(f"/v1/jobs/{job}/estimates", {}, wait_s=60)
    assert posted.status_code == 200, posted.text
    found: Json = posted.json()
    return found


@pytest.fixture(scope="module")
def room() -> ScannedRoom:
    return scanned_room(points=1_000_000)


def test_a_million_points_become_a_surface_within_a_millimetre_and_a_quote(
    client: Client, room: ScannedRoom
) -> None:
    """Also under the table, which hides three quarters of the floor, and beside its legs."""
    estimate = _estimate(client, outline=room.outline, pieces=las_pieces(room.points), facts={})
    assert estimate["state"] == "completed", estimate["problems"]
    assert len(estimate["quotes"]) == 1
    surface = client.http.get(f"/v1/estimates/{estimate['id']}/surface").json()
    nodes, result = surface["nodes"], surface["result"]
    x, y = np.meshgrid(
        nodes["x0_m"] + nodes["step_m"] * np.arange(nodes["nx"]),
        nodes["y0_m"] + nodes["step_m"] * np.arange(nodes["ny"]),
    )
    inside = np.array(result["inside"], dtype=bool)
    away = np.array(result["height_mm"]) - 1000 * room.slab.height(x, y)
    x0, y0, x1, y1 = TABLE
    under = inside & (x > x0) & (x < x1) & (y > y0) & (y < y1)
    assert under.sum() > 50
    assert np.sqrt(np.mean(away[inside] ** 2)) < 1.0
    assert np.sqrt(np.mean(away[under] ** 2)) < 1.0
    assert np.array(result["error_mm"])[inside].min() >= 1.5
    assert "misread" not in codes(estimate, severity="finding")
    scan = client.result(estimate, "scans")
    assert scan["points_read"] == 1_000_000


def test_a_real_scan_in_a_countrys_coordinates_keeps_its_plane(client: Client) -> None:
    """The file is sent as it is; the client says where its corner lies, and the service takes it off."""
    scan = laspy.read(SCAN)
    points = np.column_stack([np.asarray(scan.x), np.asarray(scan.y), np.asarray(scan.z)])
    corner = points.min(axis=0)
    wide, deep = (points.max(axis=0) - corner + 0.01)[:2].tolist()
    estimate = _estimate(
        client,
        outline=[[-0.01, -0.01], [wide, -0.01], [wide, deep], [-0.01, deep]],
        pieces=iter([SCAN.read_bytes()]),
        facts={"place": {"scanned": corner.tolist(), "site": [0, 0, 0]}},
    )
    assert estimate["state"] == "completed", estimate["problems"]
    assert client.result(estimate, "scans")["points_read"] == len(points) == 28_185
    assert "scan-heights-coarse" in codes(estimate, severity="finding")  # they come in whole centimetres
    surface = client.http.get(f"/v1/estimates/{estimate['id']}/surface").json()
    away = _by_square(surface, points - corner)
    assert len(away) > 50
    assert np.sqrt(np.mean(away**2)) < 1.5


def _by_square(surface: Json, points: Floats) -> Floats:
    """Mean of the surface less mean of the points, in mm, for squares of 0.25 m with 100 points or more."""
    nodes, result = surface["nodes"], surface["result"]
    at = np.meshgrid(*(nodes[f"{c}0_m"] + nodes["step_m"] * np.arange(nodes[f"n{c}"]) for c in "xy"))
    inside = np.array(result["inside"], dtype=bool)
    fitted = _means(at[0][inside], at[1][inside], np.array(result["height_mm"])[inside], least=4)
    seen = _means(points[:, 0], points[:, 1], 1000 * points[:, 2], least=100)
    return np.array([fitted[square] - seen[square] for square in fitted.keys() & seen.keys()])


def _means(x: Floats, y: Floats, values: Floats, *, least: int) -> dict[int, float]:
    square = np.floor(x / 0.25).astype(int) * 1000 + np.floor(y / 0.25).astype(int)
    names, group, count = np.unique(square, return_inverse=True, return_counts=True)
    mean = np.bincount(group, weights=values) / count
    return {int(n): float(m) for n, m, c in zip(names, mean, count, strict=True) if c >= least}
