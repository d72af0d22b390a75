"""What is cut along a board and what across it, on pieces whose answers are plain."""

from dataclasses import replace

import pytest

from slab_core.layout.model import Piece
from slab_core.layout.rips import rip_m, slants
from slab_core.materials import starter
from slab_core.rooms.model import Obstacle, Ring
from tests.laid_floors import floor_of, laid, rectangle

COVERING = replace(starter.covering(), direction_deg=0.0, width_m=0.1, least_rip_m=0.04, expansion_gap_m=0.0)


def _piece(*outline: Ring, far_m: float = 0.1) -> Piece:
    return Piece(
        row=1, order=1, start_m=0.0, end_m=1.0, near_m=0.0, far_m=far_m, board=1, board_length_m=1.0,
        source="board", cut_start=False, cut_end=False, ripped=False, outline=outline,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("piece", "along_m", "ends"),
    [
        (_piece(), 0.0, (False, False)),
        (_piece(far_m=0.06), 1.0, (False, False)),
        (_piece(((0, 0), (1, 0), (1, 0.06), (0, 0.08)), far_m=0.08), 1.0, (False, False)),  # tapered
        (_piece(((0, 0), (1, 0), (1, 0.05), (0.7, 0.05), (0.7, 0.1), (0, 0.1))), 0.3, (False, False)),
        (_piece(((0, 0), (1, 0), (0.9, 0.1), (0, 0.1))), 0.0, (False, True)),
        (_piece(((0, 0), (1, 0), (0.9, 0.1), (0.05, 0.1))), 0.0, (True, True)),
        (_piece(((0, 0), (1, 0), (0.997, 0.1), (0, 0.1))), 0.0, (False, False)),  # hardly out of square
        (_piece(((0, 0), (1, 0), (1, 0.02), (0, 0.02)), ((0, 0.07), (1, 0.07), (1, 0.1), (0, 0.1))), 2.0,
         (False, False)),
    ],
)  # fmt: skip
def test_a_piece_is_ripped_as_far_as_its_sides_are_not_the_boards_own(
    piece: Piece, along_m: float, ends: tuple[bool, bool]
) -> None:
    assert rip_m(piece, width_m=0.1) == pytest.approx(along_m)
    assert slants(piece) == ends


def test_a_room_is_ripped_along_its_last_row_and_the_front_of_a_hearth() -> None:
    hearth = Obstacle(id="hearth", kind="hearth", outline=rectangle(1.0, 0.0, 2.2, 0.35))
    layout = laid(floor_of(rectangle(0, 0, 4, 2.06), obstacles=(hearth,)), covering=COVERING)
    assert layout.last_row_m == pytest.approx(0.06)
    assert layout.ripped_m == pytest.approx(4.0 + 1.2)
    assert layout.directions[0].ripped_m == layout.ripped_m
    assert {piece.row for piece in layout.pieces if piece.ripped} == {4, layout.rows}


def test_diagonal_rows_are_cut_at_both_ends_of_every_row_and_not_ripped() -> None:
    layout = laid(floor_of(rectangle(0, 0, 3, 2)), covering=replace(COVERING, direction_deg=45.0))
    for run in layout.runs:
        pieces = [piece for piece in layout.pieces if piece.row == run.row]
        assert (pieces[0].cut_start, pieces[-1].cut_end) == (True, True)
    assert layout.ripped_m == pytest.approx(0.0, abs=0.3)  # where rows begin and end in corners
    straight = laid(floor_of(rectangle(0, 0, 3, 2)), covering=COVERING)
    assert layout.cuts > 1.4 * straight.cuts
