"""The cut list against geometry that knows nothing of how it was made: pieces tile the floor exactly."""

from collections import defaultdict
from dataclasses import replace
from itertools import pairwise

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.layout.distances import NO_CUT_M, ROW_AFTER_NEXT_M
from slab_core.layout.model import Layout, Piece
from slab_core.materials import starter
from slab_core.materials.model import Covering
from slab_core.rooms.build import build_rooms
from slab_core.rooms.model import Floor, Obstacle, Opening, Room
from tests.laid_floors import floor_of, laid, may_be_covered, pieces_on_floor, rectangle

AREA_M2 = 1e-6

sides = st.floats(1.2, 6.0).map(lambda v: round(v, 4))
shares = st.floats(0.15, 0.85)
directions = st.sampled_from([None, 0.0, 90.0, 45.0, 30.0, 171.5])


def check_tiling(floor: Floor, covering: Covering, layout: Layout) -> None:
    shapes = pieces_on_floor(layout)
    whole = may_be_covered(floor, gap_m=covering.expansion_gap_m)
    union = shapely.union_all(shapes, grid_size=1e-9)
    assert sum(shape.area for shape in shapes) == pytest.approx(union.area, abs=AREA_M2)  # no overlap
    assert shapely.symmetric_difference(union, whole).area < AREA_M2 * 10  # no gap, nothing beyond
    assert layout.covered_m2 == pytest.approx(whole.area, abs=AREA_M2)


def check_boards(covering: Covering, layout: Layout) -> None:
    by_board: dict[int, list[Piece]] = defaultdict(list)
    for piece in layout.pieces:
        by_board[piece.board].append(piece)
    assert set(by_board) == set(range(1, layout.boards + 1))
    bought = 0.0
    for pieces in by_board.values():
        length = pieces[0].board_length_m
        assert length in covering.lengths_m
        assert {p.board_length_m for p in pieces} == {length}
        kerfs = covering.kerf_m * (len(pieces) - 1)
        assert sum(p.end_m - p.start_m for p in pieces) + kerfs <= length + NO_CUT_M * len(pieces) + 1e-9
        assert sum(p.source == "board" for p in pieces) == 1
        bought += length * covering.width_m
    assert layout.bought_m2 == pytest.approx(bought)
    assert all(p.far_m - p.near_m <= covering.width_m + 1e-9 for p in layout.pieces)


def count_joints_too_close(covering: Covering, layout: Layout) -> int:
    joints: dict[int, list[float]] = defaultdict(list)
    for a, b in pairwise(layout.pieces):
        if a.row == b.row and abs(a.end_m - b.start_m) < 1e-9:
            joints[a.row].append(a.end_m)
    close = 0
    for row, places in joints.items():
        for at in places:
            last = any(abs(at - u) < covering.stagger_m - 1e-6 for u in joints.get(row - 1, ()))
            after = any(abs(at - u) < ROW_AFTER_NEXT_M - 1e-6 for u in joints.get(row - 2, ()))
            close += last or after
    return close


def check_all(floor: Floor, covering: Covering) -> Layout:
    layout = laid(floor, covering=covering)
    check_tiling(floor, covering, layout)
    check_boards(covering, layout)
    assert count_joints_too_close(covering, layout) == layout.joints_too_close
    assert layout.waste_bound_share <= layout.waste_share + 1e-9
    assert sum(spread.area_m2 for spread in layout.spreads) == pytest.approx(layout.covered_m2, abs=1e-6)
    return layout


@settings(max_examples=25, deadline=None)
@given(sides, sides, shares, shares, directions)
def test_a_rectangle_with_a_hole_is_covered_exactly_from_real_boards(
    width: float, height: float, across: float, up: float, direction: float | None
) -> None:
    x, y = across * (width - 0.35), up * (height - 0.35)
    hole = rectangle(x + 0.02, y + 0.02, x + 0.33, y + 0.31)
    covering = replace(starter.covering(), direction_deg=direction)
    check_all(floor_of(rectangle(0, 0, width, height), holes=(hole,)), covering)


@settings(max_examples=25, deadline=None)
@given(sides, sides, shares, shares, directions)
def test_an_l_shaped_room_is_covered_exactly_from_real_boards(
    width: float, height: float, across: float, up: float, direction: float | None
) -> None:
    x, y = width * across, height * up
    outline = ((0.0, 0.0), (width, 0.0), (width, y), (x, y), (x, height), (0.0, height))
    check_all(floor_of(outline), replace(starter.covering(), direction_deg=direction))


@settings(max_examples=15, deadline=None)
@given(st.lists(st.tuples(st.floats(-0.4, 0.4), st.floats(-0.4, 0.4)), min_size=4, max_size=4))
def test_slanted_walls_are_covered_exactly_with_tapered_pieces(moved: list[tuple[float, float]]) -> None:
    corners = rectangle(0, 0, 4, 3)
    outline = tuple((x + dx, y + dy) for (x, y), (dx, dy) in zip(corners, moved, strict=True))
    check_all(floor_of(outline), starter.covering())


@settings(max_examples=15, deadline=None)
@given(sides, sides, st.sampled_from([(0.9,), (1.2,), (1.22, 1.83), (0.45, 0.6, 0.61, 1.2, 2.1)]))
def test_boards_of_one_or_a_few_lengths_cover_exactly_too(
    width: float, height: float, lengths: tuple[float, ...]
) -> None:
    check_all(floor_of(rectangle(0, 0, width, height)), replace(starter.covering(), lengths_m=lengths))


def test_a_column_inside_one_row_leaves_no_board_with_a_hole_in_it() -> None:
    column = rectangle(2.0, 1.02, 2.06, 1.08)
    covering = replace(starter.covering(), direction_deg=0.0, expansion_gap_m=0.005)
    layout = check_all(floor_of(rectangle(0, 0, 5, 3), holes=(column,)), covering)
    assert all(len(shape.interiors) == 0 for shape in pieces_on_floor(layout))


def test_joints_keep_their_distance_in_an_ordinary_room() -> None:
    covering = starter.covering()
    for seed in range(4):
        layout = laid(floor_of(rectangle(0, 0, 6, 5)), seed=seed)
        assert layout.joints_too_close == 0
        assert count_joints_too_close(covering, layout) == 0


def test_no_piece_is_shorter_than_the_least_where_the_floor_is_longer() -> None:
    layout = laid(floor_of(rectangle(0, 0, 6, 5)))
    assert min(p.end_m - p.start_m for p in layout.pieces) >= starter.covering().least_piece_m - 1e-9


def test_boards_reach_under_a_hearth_that_is_undercut_and_the_gap_is_in_the_slot() -> None:
    hearth = Obstacle(id="h", kind="hearth", outline=rectangle(1.5, 0.0, 3.0, 0.5))
    floor = floor_of(rectangle(0, 0, 5, 4), obstacles=(hearth,))
    covering = replace(starter.covering(), direction_deg=0.0, undercut_m=0.012)
    layout = laid(floor, covering=covering)
    gap = covering.expansion_gap_m
    expected = shapely.box(gap, gap, 5 - gap, 4 - gap).difference(shapely.box(1.512, -1.0, 2.988, 0.488))
    union = shapely.union_all(pieces_on_floor(layout), grid_size=1e-9)
    assert shapely.symmetric_difference(union, expected).area < AREA_M2 * 10
    assert layout.undercut_depth_m == pytest.approx(0.012 + gap)
    assert layout.undercut_height_m == pytest.approx(covering.thickness_m + starter.plain_adhesive().film_m)
    plain = laid(floor, covering=replace(covering, undercut_m=0.0))
    assert plain.undercut_depth_m == 0.0
    assert plain.covered_m2 < layout.covered_m2


@pytest.mark.parametrize("direction", [None, 45.0])
def test_three_rooms_through_doorways_with_a_hearth_and_a_post_are_covered_exactly(
    direction: float | None,
) -> None:
    hearth = Obstacle(id="hearth", kind="hearth", outline=rectangle(1.1, 0.0, 2.6, 0.55))
    post = Obstacle(id="post", kind="column", outline=rectangle(8.0, 2.2, 8.4, 2.6))
    through = Opening(id="east", start=(4.0, 1.2), end=(4.0, 2.1), to_room="hall")
    further = Opening(id="far", start=(6.32, 1.2), end=(6.32, 2.1), to_room="study")
    study = ((6.44, 0.0), (9.9, 0.0), (9.9, 4.2), (7.5, 4.2), (7.5, 3.1), (6.44, 3.1))
    rooms = (
        Room(
            id="living",
            name="",
            outline=rectangle(0, 0, 4.0, 3.6),
            obstacles=(hearth,),
            openings=(through,),
        ),
        Room(id="hall", name="", outline=rectangle(4.12, 0, 6.32, 3.6), openings=(further,)),
        Room(id="study", name="", outline=study, obstacles=(post,)),
    )
    (floor,) = build_rooms(rooms=rooms).floors
    layout = check_all(floor, replace(starter.covering(), direction_deg=direction))
    ends = {(piece.row, piece.end_m) for piece in layout.pieces}
    assert all((joint.row, joint.at_m) in ends for joint in layout.close_joints)
