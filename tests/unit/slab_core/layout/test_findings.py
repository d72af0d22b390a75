"""What a layout warns of before anything goes wrong on site."""

from dataclasses import replace
from typing import Any

import pytest

from slab_core.layout.findings import stagger_problems
from slab_core.materials import starter
from tests.laid_floors import floor_of, laid, rectangle


@pytest.mark.parametrize(
    ("lengths_m", "stagger_m", "told"),
    [
        ((0.4, 0.6, 0.8, 1.0, 1.2, 1.4, 1.6, 1.8), 0.2286, ""),
        ((0.45, 0.55, 0.7, 0.9), 0.2286, "bars 70% of the row beside"),
        ((0.45, 0.55, 0.7, 0.9), 0.16, ""),  # just under a quarter of 0.65 m
        ((0.6,), 0.2286, ""),  # of one length none need be set aside
        ((0.4,), 0.2286, "no board is longer than 0.400 m"),
    ],
)
def test_boards_that_leave_their_joints_no_room_are_told_with_a_stagger_that_does(
    lengths_m: tuple[float, ...], stagger_m: float, told: str
) -> None:
    problems = stagger_problems(
        covering=replace(starter.covering(), lengths_m=lengths_m, stagger_m=stagger_m)
    )
    assert [problem.code for problem in problems] == ["boards-short-for-stagger"] * bool(told)
    assert all(told in problem.detail for problem in problems)


def test_where_no_board_is_twice_the_stagger_joints_between_joints_come_too_close() -> None:
    covering = replace(starter.covering(), lengths_m=(0.4,), least_piece_m=0.1)
    layout = laid(floor_of(rectangle(0, 0, 2, 0.5)), covering=covering)
    assert {"boards-short-for-stagger", "joints-too-close"} <= {problem.code for problem in layout.problems}


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"line_through": (0.0, 0.02)}, "line through the given point"),
        ({"rows_start": "centred", "least_rip_m": 0.1}, "on the middle of the floor"),
        ({"least_rip_m": 0.1}, "in every position"),
    ],
)
def test_a_narrow_rip_says_what_the_rows_were_held_to(changes: dict[str, Any], told: str) -> None:
    covering = replace(starter.covering(), width_m=0.1, direction_deg=0.0, expansion_gap_m=0.0, **changes)
    layout = laid(floor_of(rectangle(0, 0, 2, 0.98)), covering=covering)
    (narrow,) = [problem.detail for problem in layout.problems if problem.code == "narrow-rip"]
    assert told in narrow
