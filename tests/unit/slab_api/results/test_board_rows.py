"""The cut list of boards adds up: every board is its pieces, a kerf for each cut, and what is left of it."""

from collections import defaultdict
from dataclasses import replace

import pytest

from slab_api.results.board_rows import HEADING, board_rows
from slab_core.layout.distances import NO_CUT_M
from slab_core.layout.model import Piece
from slab_core.materials import starter
from tests.laid_floors import floor_of, laid, rectangle

LAYOUT = laid(floor_of(rectangle(0, 0, 4.3, 2.6)), covering=replace(starter.covering(), direction_deg=0.0))


def test_pieces_kerfs_and_what_is_left_make_the_board() -> None:
    boards = defaultdict(list)
    for row in board_rows(LAYOUT):
        boards[row[HEADING.index("board")]].append(dict(zip(HEADING, row, strict=True)))
    assert len(boards) == LAYOUT.boards
    for pieces in boards.values():
        used = sum(float(piece["length (mm)"]) for piece in pieces)
        kerfs = 1000.0 * starter.covering().kerf_m * (len(pieces) - 1)
        left = [piece["left of the board (mm)"] for piece in pieces]
        assert left[:-1] == [""] * (len(pieces) - 1)
        whole = float(pieces[0]["board length (mm)"])
        loose = 1000.0 * (starter.covering().kerf_m + NO_CUT_M * len(pieces))
        assert used + kerfs + float(left[-1]) == pytest.approx(whole, abs=loose + 1e-6)


def test_an_offcut_names_the_piece_that_it_was_cut_from_by_hand() -> None:
    def piece(row: int, start_m: float, end_m: float, **changes: object) -> Piece:
        made = Piece(
            row=row, order=1, start_m=start_m, end_m=end_m, near_m=0.0, far_m=0.1, board=7,
            board_length_m=2.0, source="board", cut_start=False, cut_end=True, ripped=False,
        )  # fmt: skip
        return replace(made, **changes)  # type: ignore[arg-type]

    first = piece(3, 0.0, 1.2)
    second = piece(5, 0.0, 0.5, source="offcut", cut_start=True, ripped=True)
    layout = replace(LAYOUT, pieces=(first, second), spreads=())
    one, other = (dict(zip(HEADING, row, strict=True)) for row in board_rows(layout))
    assert (one["rest to row"], one["rest to piece"], one["left of the board (mm)"]) == (5, 1, "")
    assert (other["offcut of row"], other["offcut of piece"], other["taken from"]) == (3, 1, "offcut")
    assert other["left of the board (mm)"] == pytest.approx(2000 - 1200 - 500 - 2 * 3)
    assert (other["left end"], other["right end"], other["ripped"]) == ("cut", "cut", "yes")
