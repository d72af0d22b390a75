"""Joints that come too close: told with their places, and seldom left."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.layout.close_joints import close_joints, places_told
from slab_core.layout.model import CloseJoint
from slab_core.materials import starter
from tests.floors_to_lay import six_rooms
from tests.laid_floors import floor_of, laid, rectangle


def test_a_joint_is_too_close_within_the_stagger_of_the_last_row_and_in_line_with_the_one_before() -> None:
    joints = {1: [1.0, 2.0], 2: [1.5], 3: [1.04, 1.3, 2.06], 5: [1.3]}
    assert close_joints(joints=joints, stagger_m=0.2) == (
        CloseJoint(row=3, at_m=1.04, near_row=1, near_at_m=1.0),
        CloseJoint(row=5, at_m=1.3, near_row=3, near_at_m=1.3),
    )
    assert len(close_joints(joints=joints, stagger_m=0.25)) == 3


def test_boards_of_one_length_that_meet_in_line_are_told_with_row_and_place() -> None:
    covering = replace(
        starter.covering(), lengths_m=(0.5,), direction_deg=0.0, stagger_m=0.24, least_piece_m=0.1
    )
    layout = laid(floor_of(rectangle(0, 0, 3.03, 1)), covering=covering)
    assert layout.joints_too_close == len({(joint.row, joint.at_m) for joint in layout.close_joints}) > 0
    ends = {(piece.row, piece.end_m) for piece in layout.pieces}
    for joint in layout.close_joints:
        assert {(joint.row, joint.at_m), (joint.near_row, joint.near_at_m)} <= ends
    (problem,) = [problem for problem in layout.problems if problem.code == "joints-too-close"]
    first = layout.close_joints[0]
    assert f"row {first.row} at {first.at_m:.3f} m" in problem.detail
    assert f"row {first.near_row} at {first.near_at_m:.3f} m" in problem.detail


def test_of_many_places_the_first_six_are_named_and_the_others_counted() -> None:
    one = CloseJoint(row=3, at_m=1.04, near_row=2, near_at_m=1.0)
    assert places_told((one,)) == "row 3 at 1.040 m, 40 mm from row 2 at 1.000 m"
    assert places_told((one,) * 8).count("row 3") == 6
    assert places_told((one,) * 8).endswith("; and 2 more")


@pytest.mark.parametrize("seed", [960_002, 960_007])
def test_joints_that_end_too_close_are_laid_over_with_a_few_boards_more(seed: int) -> None:
    # One and two joints are left on these floors where the last rows choose from the boards that they need.
    assert laid(six_rooms(np.random.default_rng(seed)), seed=seed).close_joints == ()
