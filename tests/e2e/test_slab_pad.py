"""A real survey of a real slab goes all the way to a quote.

The elevations are the published ones of the SPEAR3 concrete test pad (Stanford Linear Accelerator Center,
Alignment Engineering Group, "E1155M-96" worksheet, 2003). Where the lines lay on the pad is not
published: our assumption is six parallel lines along the 6.11 m side at an even distance. Of line 5 only
the curvatures are published: its heights are rebuilt from them, starting level at line 4's first height.
"""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.e2e.client import Client, Json, codes

PAD = json.loads((Path(__file__).parents[1] / "reference/data/slac_profile.json").read_text())
WIDTH_M, LENGTH_M, SPACING_M = 3.36, 6.11, 0.3
# facts computed from the published elevations with the E1155 constants (from memory), without resampling
LINE_FF = [28.841, 20.444, 34.630, 18.502, 32.490, 30.414]
LINE_FL = [20.210, 45.980, 39.545, 46.653, 37.224]


def _elevations() -> list[list[float]]:
    lines = [PAD["elevations"][str(line)] for line in range(5)]
    curvatures = PAD["published_q"]["5"]
    steps = np.concatenate(([0.0], np.cumsum(curvatures)))
    rebuilt = lines[4][0] + np.concatenate(([0.0], np.cumsum(steps)))
    return [*lines, [round(float(height), 3) for height in rebuilt]]


def _job(lines: list[list[float]]) -> Json:
    return {
        "name": "Test pad",
        "units": {"length": "m", "height": "mm"},
        "rooms": [
            {
                "id": "pad",
                "name": "Pad",
                "outline": [[0, 0], [WIDTH_M, 0], [WIDTH_M, LENGTH_M], [0, LENGTH_M]],
            }
        ],
        "surveys": [{"id": "level", "lines": [_line(i, heights) for i, heights in enumerate(lines)]}],
        "tolerance": {"rules": [{"length": "10 ft", "gap": "3/16 in"}]},
    }


def _line(number: int, heights: list[float]) -> Json:
    x = (number + 0.5) * WIDTH_M / 6
    start = (LENGTH_M - SPACING_M * (len(heights) - 1)) / 2
    return {
        "id": f"line-{number}",
        "kind": "elevation",
        "from": [x, start],
        "to": [x, start + SPACING_M * (len(heights) - 1)],
        "spacing": SPACING_M,
        "value": heights,
        "sd": 0.3,
    }


@pytest.fixture(scope="module")
def estimate(client: Client) -> Json:
    return client.estimate(_job(_elevations()))


@pytest.fixture(scope="module")
def f_numbers(client: Client, estimate: Json) -> Any:
    return client.result(estimate, "tolerance", floor="pad")["f_numbers"]


def test_the_pads_survey_comes_back_as_a_quote(client: Client, estimate: Json) -> None:
    assert estimate["state"] == "completed"
    assert float(client.result(estimate, "quote")["total"]["amount"]) > 0


def test_the_published_curvatures_come_back_to_a_thousandth_of_a_millimetre(f_numbers: Json) -> None:
    for line in f_numbers["lines"]:
        published = PAD["published_q"][line["line"].removeprefix("line-")]
        found_mm = [1000 * q for q in line["curvature_m"]]
        assert found_mm == pytest.approx(published, abs=0.0011)


def test_the_f_numbers_of_each_line_and_of_all_are_those_of_the_worksheets_elevations(
    f_numbers: Json,
) -> None:
    assert [line["ff"] for line in f_numbers["lines"]] == pytest.approx(LINE_FF, abs=2e-3)
    assert [line["fl"] for line in f_numbers["lines"][:5]] == pytest.approx(LINE_FL, abs=2e-3)
    assert f_numbers["ff"] == pytest.approx(25.217, abs=2e-3)


def test_the_five_lines_with_published_elevations_combine_to_their_f_numbers(client: Client) -> None:
    estimate = client.estimate(_job(_elevations()[:5]))
    found = client.result(estimate, "tolerance", floor="pad")["f_numbers"]
    assert (found["ff"], found["fl"]) == pytest.approx((24.546, 33.032), abs=2e-3)


def test_a_pad_below_the_standards_minimum_section_is_flagged_not_refused(estimate: Json) -> None:
    assert "f-numbers-below-minimum-section" in codes(estimate, severity="finding")
