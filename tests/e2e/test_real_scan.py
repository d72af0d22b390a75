"""A real laser scan of a nearly flat patch, posted as readings.

plane.laz: source and licence in tests/reference/data/README.md. Its least-squares plane has the slopes
2.60315104e-3 and -1.61929704e-3 and an rms residual of 8.2615 mm (computed from the file). The scan's
coordinates are of a country; the client takes the patch's corner off, as a field app would.
"""

import base64
import hashlib
import json
from pathlib import Path

import laspy
import numpy as np
import pytest

from slab_core.numerics.grid import Floats
from tests.e2e.client import Client, Json

SCAN = Path(__file__).parents[1] / "reference/data/plane.laz"
SLOPES = (2.60315104e-3, -1.61929704e-3)
RESIDUAL_M, LARGEST_M = 8.2615e-3, 30.27e-3
CHUNK_ROWS = 10_000


@pytest.fixture(scope="module")
def points() -> Floats:
    scan = laspy.read(SCAN)
    xyz = np.column_stack([np.asarray(scan.x), np.asarray(scan.y), np.asarray(scan.z)])
    return np.round(xyz - xyz.min(axis=0), 6)


def _outline(points: Floats) -> list[list[float]]:
    wide, deep = points[:, 0].max() + 0.01, points[:, 1].max() + 0.01
    return [[-0.01, -0.01], [wide, -0.01], [wide, deep], [-0.01, deep]]


def _parts() -> Json:
    return {
        "name": "Scanned patch",
        "units": {"length": "m", "height": "m"},
        "tolerance": {"rules": [{"length": "10 ft", "gap": "3/16 in"}]},
    }


def _columns(points: Floats) -> Json:
    x, y, z = (column.tolist() for column in points.T)
    return {"kind": "elevation", "x": x, "y": y, "value": z, "sd": RESIDUAL_M, "position_sd": 0.002}


def _digest(body: bytes) -> str:
    """RFC 9530."""
    return f"sha-256=:{base64.b64encode(hashlib.sha256(body).digest()).decode()}:"


def test_all_points_sent_in_chunks_are_used_and_keep_the_scans_plane(client: Client, points: Floats) -> None:
    job = client.post("/v1/jobs", _parts()).json()
    room = {"name": "Patch", "outline": _outline(points)}
    assert client.post(f"/v1/jobs/{job['id']}/rooms", room).status_code == 201
    survey = client.post(f"/v1/jobs/{job['id']}/surveys", {}).json()
    parts = [points[at : at + CHUNK_ROWS] for at in range(0, len(points), CHUNK_ROWS)]
    for number in [3, 1, 2, 1]:  # bad reception: out of order, one twice
        body = json.dumps(_columns(parts[number - 1])).encode()
        answer = client.http.put(
            f"/v1/surveys/{survey['id']}/chunks/{number}",
            content=body,
            headers={"Content-Type": "application/json", "Content-Digest": _digest(body)},
        )
        assert answer.status_code in (200, 201), answer.text
    assert client.post(f"/v1/surveys/{survey['id']}/close", {"chunks": len(parts)}).status_code == 200
    posted = client.post(f"/v1/jobs/{job['id']}/estimates", {}, wait_s=60)
    estimate = posted.json()
    assert estimate["state"] == "completed", posted.text
    network = client.result(estimate, "surveys")
    assert network["reading_count"] == len(points) == 28_185
    floor = client.result(estimate, "rooms")["floors"][0]["id"]
    plane = client.result(estimate, "surface", floor=floor)["readings_plane"]
    assert plane["heights"] == len(points)
    assert (plane["slope_x"], plane["slope_y"]) == pytest.approx(SLOPES, abs=1e-9)
    assert (plane["residual_m"], plane["largest_m"]) == pytest.approx((RESIDUAL_M, LARGEST_M), abs=5e-6)


def test_a_hundred_and_fifty_points_give_its_slopes_within_three_standard_errors(
    client: Client, points: Floats
) -> None:
    thinned = points[np.random.default_rng(3).choice(len(points), 150, replace=False)]
    room = {"id": "patch", "name": "Patch", "outline": _outline(points)}
    job = {**_parts(), "rooms": [room], "surveys": [{"id": "scan", "readings": [_columns(thinned)]}]}
    plane = client.result(client.estimate(job), "surface", floor="patch")["readings_plane"]
    assert abs(plane["slope_x"] - SLOPES[0]) <= 3 * plane["slope_x_sd"]
    assert abs(plane["slope_y"] - SLOPES[1]) <= 3 * plane["slope_y_sd"]
