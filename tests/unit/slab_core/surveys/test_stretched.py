"""Readings down from a stretched line: its sag, what they observe, and what is refused."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import scipy.optimize

from slab_core.numerics.grid import Floats
from slab_core.rooms.build import build_rooms
from slab_core.rooms.model import Room
from slab_core.surveys.check import check_surveys
from slab_core.surveys.model import Network, StretchedLine, Survey
from slab_core.surveys.network import adjust
from slab_core.surveys.observe import observations
from slab_core.surveys.stretched import line_height_m, middle_sag_m

DEN = Room(id="den", name="Den", outline=((0, 0), (6, 0), (6, 5), (0, 5)))
HALL = Room(id="hall", name="Hall", outline=((6.2, 0), (9, 0), (9, 5), (6.2, 5)))
ROOMS = build_rooms(rooms=(DEN, HALL))
START, END = (0.5, 0.5), (5.3, 4.1)
LENGTH_M = 6.0
ALONG = np.array([0.6, 1.5, 3.0, 4.5, 5.4])


def truth(x: Floats, y: Floats) -> Floats:
    """A tilted dish: heights above the datum in metres."""
    return np.asarray(8.5 + 0.002 * x - 0.001 * y + 0.0004 * (x - 3) ** 2 + 0.0003 * (y - 2) * x)


def under(along_m: Floats) -> Floats:
    """The floor under the line."""
    return truth(START[0] + 0.8 * along_m, START[1] + 0.6 * along_m)


def on_blocks(**changes: Any) -> StretchedLine:
    """A line on blocks of 50 and 40 mm that hangs through by 2 mm, read without noise."""
    t = ALONG / LENGTH_M
    ends = under(np.array([0.0, LENGTH_M])) + np.array([0.050, 0.040])
    reading = (1 - t) * ends[0] + t * ends[1] - 0.002 * 4 * t * (1 - t) - under(ALONG)
    given: dict[str, Any] = {
        "id": "l",
        "ends": "floor",
        "start": START,
        "end": END,
        "start_height_m": 0.050,
        "end_height_m": 0.040,
        "along_m": ALONG,
        "value_m": reading,
        "sd_m": np.full(5, 0.0008),
        "sag_m": 0.002,
    }
    return StretchedLine(**{**given, **changes})


def at_heights() -> StretchedLine:
    """The same line with its ends levelled in."""
    ends = under(np.array([0.0, LENGTH_M])) + np.array([0.050, 0.040])
    return on_blocks(id="m", ends="elevation", start_height_m=float(ends[0]), end_height_m=float(ends[1]))


def survey(*lines: StretchedLine) -> Survey:
    return Survey(id="s", stretched_lines=lines)


def network(one: Survey) -> Network:
    return adjust(rooms=build_rooms(rooms=(DEN,)), benchmarks=(), surveys=(one,))


@pytest.mark.parametrize("line", [on_blocks(), at_heights()], ids=["on blocks", "levelled in"])
def test_either_kind_of_ends_observes_the_one_true_surface(line: StretchedLine) -> None:
    one = survey(line)
    found = observations(floor=ROOMS.floors[0], surveys=(one,), network=network(one))
    assert np.sum(found.weight * truth(found.x_m, found.y_m), axis=1) == pytest.approx(
        found.value_m, abs=3e-9
    )
    assert found.pointer == tuple(f"/surveys/0/stretched_lines/0/value/{k}" for k in range(5))


def test_ends_on_the_floor_are_observed_too_and_known_ends_leave_a_height() -> None:
    one = survey(on_blocks(), at_heights())
    found = observations(floor=ROOMS.floors[0], surveys=(one,), network=network(one))
    assert found.weight[1].tolist() == [0.75, 0.25, -1.0]
    assert found.weight[6].tolist() == [1.0, 0.0, 0.0]
    assert found.x_m[1].tolist() == [0.5, 5.3, 1.7]


def test_the_sag_from_mass_and_tension_is_that_of_a_catenary() -> None:
    # 2 g per m over 6 m under 20 N: solved as a catenary, y = a·cosh(x/a) with a = horizontal pull / weight.
    weight, half = 0.002 * 9.80665, 3.0

    def pull_at_the_end(a: float) -> float:
        return float(weight * a * np.cosh(half / a) - 20.0)

    a = float(scipy.optimize.brentq(pull_at_the_end, 100.0, 2000.0, xtol=1e-10))
    exact = 2 * a * np.sinh(half / (2 * a)) ** 2
    line = on_blocks(sag_m=None, kg_per_metre=0.002, tension_n=20.0)
    assert middle_sag_m(line) == pytest.approx(exact, abs=1e-6)
    # Along the line the parabola is the catenary, too.
    x = ALONG - half
    catenary = exact - 2 * a * np.sinh(x / (2 * a)) ** 2
    straight = replace(line, sag_m=0.0, kg_per_metre=None, tension_n=None)
    assert line_height_m(straight) - line_height_m(line) == pytest.approx(catenary, abs=1e-6)


def test_a_sag_that_nobody_gives_is_assumed_told_and_counts_as_unsure_by_as_much() -> None:
    one = survey(on_blocks(sag_m=None))
    net = network(one)
    (problem,) = net.problems
    assert (problem.code, problem.severity) == ("line-sag-assumed", "finding")
    assert problem.pointer == "/surveys/0/stretched_lines/0"
    assert "0.9 mm" in problem.detail
    found = observations(floor=ROOMS.floors[0], surveys=(one,), network=net)
    # 1 g per m under 50 N over 6 m: 0.000883 m in the middle.
    assert found.sd_m[2] == pytest.approx(np.hypot(0.0008, 0.001 * 9.80665 * 36 / 400), abs=1e-8)
    assert network(survey(on_blocks())).problems == ()


def test_how_well_the_ends_are_known_is_part_of_each_reading() -> None:
    one = survey(replace(at_heights(), end_sd_m=0.001))
    found = observations(floor=ROOMS.floors[0], surveys=(one,), network=network(one))
    assert found.sd_m[2] == pytest.approx(np.sqrt(0.0008**2 + 0.001**2 / 2), abs=1e-9)


def test_a_line_from_floor_to_floor_is_kept_and_not_used_and_one_with_known_ends_is() -> None:
    across = {"start": (5.0, 1.0), "end": (8.0, 1.0), "along_m": np.array([0.5, 1.1, 2.0])}
    columns = {"value_m": np.full(3, 0.05), "sd_m": np.full(3, 0.0008)}
    one = survey(on_blocks(**across, **columns), replace(at_heights(), **across, **columns))
    net = adjust(rooms=ROOMS, benchmarks=(), surveys=(one,))
    outside = [problem.pointer for problem in net.problems if problem.code == "reading-outside"]
    assert outside == [
        *(f"/surveys/0/stretched_lines/0/value/{k}" for k in range(3)),
        "/surveys/0/stretched_lines/1/value/1",
    ]
    assert "reading 1 of stretched line 1 of survey 1" in next(
        problem.detail for problem in net.problems if problem.code == "reading-outside"
    )
    parts = [observations(floor=floor, surveys=(one,), network=net) for floor in ROOMS.floors]
    assert [part.pointer for part in parts] == [
        ("/surveys/0/stretched_lines/1/value/0",),
        ("/surveys/0/stretched_lines/1/value/2",),
    ]


def test_its_readings_are_counted_and_measure_the_floor() -> None:
    net = network(survey(on_blocks()))
    assert net.reading_count == 5
    assert net.problems == ()


@pytest.mark.parametrize(
    ("changes", "code", "where"),
    [
        ({"start": (float("nan"), 0.0)}, "not-finite", "start/0"),
        ({"end": START}, "line-without-length", "end"),
        ({"value_m": np.full(4, 0.05)}, "columns-unequal", ""),
        ({"value_m": np.array([0.05, 0.05, np.nan, 0.05, 0.05])}, "not-finite", "value/2"),
        ({"value_m": np.array([0.05, 0.05, 0.05, 50.0, 0.05])}, "value-absurd", "value/3"),
        ({"along_m": np.array([0.6, 1.5, 3.0, 4.5, 6.2])}, "off-the-line", "distance/4"),
        ({"along_m": np.array([-0.1, 1.5, 3.0, 4.5, 6.0])}, "off-the-line", "distance/0"),
        ({"sd_m": np.array([0.1, 0.1, 0.0, 0.1, 0.1])}, "sd-not-positive", "sd/2"),
        ({"start_height_m": -0.01}, "not-a-height", "start_height"),
        ({"end_height_m": 4.0}, "not-a-height", "end_height"),
        ({"end_sd_m": -1.0}, "sd-negative", "end_sd"),
        ({"position_sd_m": float("nan")}, "sd-negative", "position_sd"),
        ({"sag_m": -0.001}, "sag-absurd", "sag"),
        ({"sag_m": 0.4}, "sag-absurd", "sag"),
        ({"tension_n": 20.0}, "sag-twice", "tension_n"),
        ({"sag_m": None, "tension_n": 20.0}, "sag-half-given", "kg_per_metre"),
        ({"sag_m": None, "tension_n": 0.0, "kg_per_metre": 0.001}, "sag-absurd", "tension_n"),
        ({"sag_m": None, "tension_n": 0.1, "kg_per_metre": 0.01}, "sag-absurd", "tension_n"),
        ({name: np.empty(0) for name in ("along_m", "value_m", "sd_m")}, "line-too-short", "value"),
    ],
)
def test_an_unsound_line_is_refused_with_its_place(changes: dict[str, Any], code: str, where: str) -> None:
    both = survey(on_blocks(), on_blocks(**{"id": "n", **changes}))
    problems = check_surveys(surveys=(both,), benchmarks=())
    pointer = f"/surveys/0/stretched_lines/1/{where}".rstrip("/")
    assert [(p.code, p.pointer, p.severity) for p in problems] == [(code, pointer, "refusal")]


def test_two_lines_of_one_name_are_refused() -> None:
    problems = check_surveys(surveys=(survey(on_blocks(), on_blocks()),), benchmarks=())
    assert [(p.code, p.pointer) for p in problems] == [
        ("stretched-line-id-duplicate", "/surveys/0/stretched_lines/1/id")
    ]
