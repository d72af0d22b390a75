"""Readings by where they were taken: outside, on one place twice, past an end, between two floors."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.rooms.build import build_rooms
from slab_core.rooms.model import Opening, Room
from slab_core.surveys.model import (
    Gaps,
    ProfileLine,
)
from slab_core.surveys.network import adjust
from tests.unit.slab_core.surveys.networks import (
    SQUARE,
    levels,
    network,
    said,
    survey,
)


@pytest.mark.parametrize(
    ("y", "position", "codes"),
    [
        (-0.019, 0.0, []),
        (-0.021, 0.0, ["reading-outside"]),
        (-0.09, 0.05, []),
        (-0.11, 0.05, ["reading-outside"]),
        (0.0, 0.0, []),
    ],
)
def test_readings_outside_by_more_than_their_position_allows_are_told(
    y: float, position: float, codes: list[str]
) -> None:
    result = network(
        survey(setups="", readings=(levels([1.0, 2.0], [2.0, y], [10.0, 10.1], position=position),)),
        benchmarks=(),
    )
    assert [problem.code for problem in result.problems] == codes
    assert {problem.pointer for problem in result.problems} <= {"/surveys/0/readings/0/value/1"}
    assert [(s.pointer, s.floor_id) for s in result.strays] == [
        ("/surveys/0/readings/0/value/1", "" if codes else "den")
    ]
    if codes:
        assert f"{-y * 1000:.1f} mm" in result.problems[0].detail


def test_a_survey_that_misses_a_floor_is_refused_and_every_outside_reading_is_kept_track_of() -> None:
    far = levels(list(np.linspace(100, 200, 300)), [100.0] * 300, [10.0] * 300)
    result = network(survey(setups="", readings=(far,)), benchmarks=())
    assert len(said(result, "reading-outside")) == 201
    assert "100 more" in result.problems[-1].detail
    assert len(result.strays) == 300
    assert [(p.severity, p.pointer) for p in said(result, "floor-unmeasured")] == [("refusal", "/surveys")]


def test_readings_on_one_place_that_contradict_or_repeat_are_told_and_small_differences_are_not() -> None:
    block = levels([1.0, 1.0, 2.0, 2.0, 3.0, 3.0], [1.0] * 6, [10.0, 10.02, 10.1, 10.1, 10.2, 10.201])
    result = network(survey(setups="", readings=(block,)), benchmarks=())
    assert [(p.code, p.pointer, p.severity) for p in result.problems] == [
        ("readings-contradict", "/surveys/0/readings/0/value/1", "finding"),
        ("reading-repeated", "/surveys/0/readings/0/value/3", "finding"),
    ]
    assert "20.0 mm" in result.problems[0].detail
    assert "reading 2 of survey 1 differs by" in result.problems[0].detail
    assert "from reading 1 of survey 1 at the same place" in result.problems[0].detail


def test_an_edge_that_leaves_the_floor_is_told() -> None:
    one = np.ones(2)
    gaps = Gaps(
        x0_m=one,
        y0_m=one,
        x1_m=np.array([5.0, 9.0]),
        y1_m=one,
        at=one / 2,
        gap_m=one * 0.003,
        sd_m=one * 3e-4,
    )
    result = network(
        replace(survey(setups="", readings=(levels([1.0], [1.0], [10.0]),)), gaps=(gaps,)), benchmarks=()
    )
    assert [(p.code, p.pointer) for p in result.problems] == [("reading-outside", "/surveys/0/gaps/0/gap/1")]
    assert "3000.0 mm" in result.problems[0].detail
    assert result.reading_count == 3


def test_a_line_that_runs_past_its_end_is_told() -> None:
    line = ProfileLine(
        id="l", kind="elevation", start=(1, 1), end=(3, 1), spacing_m=0.5, value_m=np.linspace(10, 10.1, 6)
    )
    result = network(
        replace(survey(setups="", readings=(levels([1.0], [2.0], [10.0]),)), lines=(line,)), benchmarks=()
    )
    assert [(p.code, p.pointer) for p in result.problems] == [("line-past-its-end", "/surveys/0/lines/0/end")]


def test_a_reading_between_two_floors_goes_to_the_nearer_one_only() -> None:
    hall = Room(id="hall", name="Hall", outline=((6.2, 0), (8, 0), (8, 5), (6.2, 5)))
    den = Room(id="den", name="Den", outline=SQUARE, openings=(Opening(id="d", start=(1, 0), end=(2, 0)),))
    rooms = build_rooms(rooms=(den, hall))
    block = levels([1.0, 7.0, 6.05, 6.15, 5.95], [1.0] * 5, [10.0] * 5, position=0.2)
    result = adjust(rooms=rooms, benchmarks=(), surveys=(survey(setups="", readings=(block,)),))
    assert [(s.pointer[-1], s.floor_id) for s in result.strays] == [("2", "den"), ("3", "hall")]
