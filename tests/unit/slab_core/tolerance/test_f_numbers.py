"""F-numbers against a real survey with published curvatures and against profiles worked by hand."""

import json
from pathlib import Path

import numpy as np
import pytest

from slab_core.numerics.grid import Floats
from slab_core.surveys.model import Profile
from slab_core.tolerance.f_numbers import combined, curvatures, f_numbers, falls, line_f_numbers

DATA = json.loads(Path(__file__).parents[3].joinpath("reference/data/slac_profile.json").read_text())
INCH = 0.0254
PAD_M2, PAD_WIDTH_M = 3.36 * 6.11, 3.36

# Computed with 4.57 and 12.5 (from memory) from the published heights, without resampling.
PAD_TABLE = {
    "0": (28.841, 20.210),
    "1": (20.444, 45.980),
    "2": (34.630, 39.545),
    "3": (18.502, 46.653),
    "4": (32.490, 37.224),
}


def _pad() -> tuple[Profile, ...]:
    return tuple(
        Profile(
            id=line,
            start=(0.5 + 0.4 * k, 0.3),
            end=(0.5 + 0.4 * k, 5.7),
            spacing_m=0.3,
            height_m=np.array(DATA["elevations"][line]) / 1000.0,
        )
        for k, line in enumerate(PAD_TABLE)
    )


@pytest.mark.parametrize("line", sorted(PAD_TABLE))
def test_published_curvatures_of_the_test_pad_are_reproduced(line: str) -> None:
    # Source: SLAC Alignment Engineering Group, worksheet E1155M-96, SPEAR3 test pad, 2003.
    q = curvatures(np.array(DATA["elevations"][line]))
    np.testing.assert_allclose(q, DATA["published_q"][line], atol=0.001 + 1e-9)


def test_the_test_pad_has_its_f_numbers_by_line_and_combined() -> None:
    found, problems = f_numbers(profiles=_pad(), area_m2=PAD_M2, width_m=PAD_WIDTH_M)
    assert found is not None
    for line in found.lines:
        assert (line.ff, line.fl) == pytest.approx(PAD_TABLE[line.line], abs=0.0006)
    assert sum(line.q_count for line in found.lines) == 62
    assert sum(line.z_count for line in found.lines) == 22
    assert found.ff == pytest.approx(24.546, abs=0.0006)
    assert found.fl == pytest.approx(33.032, abs=0.0006)
    assert found.spacing_m == 0.3
    assert any("without resampling" in note for note in found.notes)
    (problem,) = problems
    assert problem.code == "f-numbers-below-minimum-section"
    assert problem.severity == "finding"
    assert "221 ft² of at least 320 ft²" in problem.detail
    assert "22 differences over 10 ft of at least 36" in problem.detail


def test_a_line_of_published_curvatures_alone_combines_with_the_others() -> None:
    # Line 5: published q only, FF 30.414; all six lines combined FF 25.217.
    q = np.array(DATA["published_q"]["5"])
    heights = np.concatenate([[0.0, 0.0], np.cumsum(np.cumsum(q))])
    line = line_f_numbers(name="5", heights_m=heights / 1000.0)
    assert line.ff == pytest.approx(30.414, abs=0.0006)
    found, _ = f_numbers(profiles=_pad(), area_m2=PAD_M2, width_m=PAD_WIDTH_M)
    assert found is not None
    six = tuple((one.ff, one.q_count) for one in (*found.lines, line))
    assert combined(six) == pytest.approx(25.217, abs=0.0006)


def test_combining_two_lines_equals_the_standards_pairwise_form() -> None:
    # F = Fj·Fk·√((rj + rk) / (rk·Fj² + rj·Fk²)), from memory.
    fj, rj, fk, rk = 31.0, 12, 19.0, 17
    pairwise = fj * fk * np.sqrt((rj + rk) / (rk * fj**2 + rj * fk**2))
    assert combined(((fj, rj), (fk, rk))) == pytest.approx(pairwise)


def _inches(name: str) -> Floats:
    i = np.arange(21.0)
    shapes = {
        "ramp": i / 16.0,
        "parabola": 0.005 * i**2,
        "zigzag": np.where(i % 2 == 0, 1 / 32, -1 / 32),
        "sine 4": np.sin(2 * np.pi * i / 4) / 8,
        "sine 10": np.sin(2 * np.pi * i / 10) / 8,
        "sine 20": np.sin(2 * np.pi * i / 20) / 8,
        "step": np.where(i >= 10, 0.125, 0.0),
    }
    return np.asarray(shapes[name])


@pytest.mark.parametrize(
    ("name", "ff", "fl"),
    # 21 heights 1 ft apart, inches; worked with 4.57 and 12.5 (from memory).
    [
        ("ramp", np.inf, 20.0),
        ("parabola", 457.0, 6.2657),
        ("zigzag", 11.6784, np.inf),
        ("sine 4", 8.1751, 22.8013),
        ("sine 10", 42.8052, np.inf),
        ("sine 20", 167.0307, 29.6414),
        ("step", 36.5600, 55.1382),
    ],
)
def test_profiles_worked_by_hand_have_their_f_numbers(name: str, ff: float, fl: float) -> None:
    line = line_f_numbers(name=name, heights_m=_inches(name) * INCH)
    assert line.ff == pytest.approx(ff, abs=0.00006)
    assert line.fl == pytest.approx(fl, abs=0.00006)


def test_a_perfect_plane_is_infinite_alone_and_when_combined() -> None:
    flat = Profile(id="a", start=(0, 0), end=(6, 0), spacing_m=0.3048, height_m=np.full(21, 100.0))
    found, _ = f_numbers(profiles=(flat, flat), area_m2=40.0, width_m=5.0)
    assert found is not None
    assert np.isinf([found.ff, found.fl]).all()


def test_a_short_or_coarse_line_is_left_out_with_its_name() -> None:
    short = Profile(id="short", start=(0, 0), end=(3, 0), spacing_m=0.3048, height_m=np.zeros(11))
    coarse = Profile(id="coarse", start=(0, 0), end=(9, 0), spacing_m=0.6, height_m=np.zeros(16))
    found, problems = f_numbers(profiles=(short, coarse), area_m2=40.0, width_m=5.0)
    assert found is None
    assert [p.code for p in problems] == ["f-numbers-line-unusable"] * 2
    assert "line short has 11 readings" in problems[0].detail
    assert "600 mm apart" in problems[1].detail


def test_a_finer_line_is_brought_to_a_foot_and_says_so() -> None:
    x = np.arange(0.0, 6.2, 0.1)
    fine = Profile(id="fine", start=(0, 0), end=(6.1, 0), spacing_m=0.1, height_m=0.003 * np.sin(x))
    found, _ = f_numbers(profiles=(fine,), area_m2=40.0, width_m=5.0)
    assert found is not None
    at = 0.3048 * np.arange(21)
    expected = line_f_numbers(name="fine", heights_m=np.interp(at, x, 0.003 * np.sin(x)))
    assert found.ff == pytest.approx(expected.ff)
    assert any("interpolated from 100 mm" in note for note in found.notes)


def test_falls_are_taken_over_ten_steps() -> None:
    np.testing.assert_array_equal(falls(np.arange(13.0) ** 2), [100.0, 120.0, 140.0])
