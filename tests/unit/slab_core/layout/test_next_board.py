"""The next board: answers that keep the rules, and a whole floor laid by asking."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.errors import InputRefused
from slab_core.layout.model import BoardRules, RowRun
from slab_core.layout.next_board import Board, NextBoard, next_board
from slab_core.layout.outlook import Outlook
from slab_core.layout.progress import LaidRun, Progress
from slab_core.materials import starter
from tests.as_they_come import Crew
from tests.laid_floors import floor_of, laid, rectangle

RULES = BoardRules(lengths_m=(0.5, 0.8, 1.2), stagger_m=0.2, least_piece_m=0.2, kerf_m=0.003)


def _runs(*lengths_m: float) -> tuple[RowRun, ...]:
    return tuple(
        RowRun(row=row, run=1, start_m=0.0, end_m=length, near_m=0.1 * row, far_m=0.1 * (row + 1))
        for row, length in enumerate(lengths_m, start=1)
    )


def _ask(
    board: Board, *laid_runs: LaidRun, runs: tuple[RowRun, ...] = _runs(3.0, 3.0), rows: int = 2
) -> NextBoard:
    return next_board(runs=runs, rules=RULES, laid=laid_runs, board=board, open_rows=rows)


def test_a_board_that_fits_the_rest_exactly_ends_the_run_uncut() -> None:
    answer = _ask(Board(length_m=0.8), LaidRun(row=1, run=1, lengths_m=(1.2, 1.0)), rows=1)
    assert answer.placing is not None
    assert (answer.placing.cut, answer.placing.end_m) == ("none", 3.0)


def test_what_is_cut_off_at_the_end_of_a_run_begins_a_later_one() -> None:
    answer = _ask(Board(length_m=1.2), LaidRun(row=1, run=1, lengths_m=(1.2, 1.2)), rows=1)
    assert answer.placing is not None
    assert answer.placing.cut == "end"
    assert answer.placing.kept_for == "start"
    assert answer.placing.kept_m == pytest.approx(1.2 - 0.6 - RULES.kerf_m)
    assert "keep the offcut of 0.597 m for the start of a later row" in answer.reason


def test_an_offcut_with_one_whole_end_lies_only_where_its_cut_end_meets_a_wall() -> None:
    full = LaidRun(row=1, run=1, lengths_m=(1.2, 1.2, 0.6))
    begun = LaidRun(row=2, run=1, lengths_m=(0.5,))
    starter_piece = Board(length_m=0.8, whole_start=False)
    assert _ask(starter_piece, full, begun).placing is None
    ender = Board(length_m=0.8, whole_end=False)
    assert _ask(ender, full, begun).placing is None  # 2.5 m are left, and its cut end would be in the middle
    nearly = LaidRun(row=2, run=1, lengths_m=(0.5, 0.8, 1.0))
    ended = _ask(ender, full, nearly).placing
    assert ended is not None
    assert ended.end_m == 3.0


def test_a_joint_is_never_too_near_while_another_board_would_do_better() -> None:
    full = LaidRun(row=1, run=1, lengths_m=(0.5, 1.2, 1.3))
    answer = _ask(Board(length_m=0.5, whole_end=True, whole_start=False), full)
    assert answer.placing is None or abs(answer.placing.end_m - 0.5) >= RULES.stagger_m
    assert answer.reason


def test_a_row_is_laid_only_as_far_as_the_row_before_backs_it() -> None:
    answer = _ask(Board(length_m=0.8), LaidRun(row=1, run=1, lengths_m=(0.5,)), rows=2)
    assert answer.placing is not None
    assert answer.placing.row == 1


def test_a_full_floor_has_no_place_and_says_so() -> None:
    full = (LaidRun(row=1, run=1, lengths_m=(3.0,)), LaidRun(row=2, run=1, lengths_m=(1.8, 1.2)))
    assert _ask(Board(length_m=0.8), *full) == NextBoard(
        placing=None, reason="every run is full: the floor is laid"
    )


@pytest.mark.parametrize(
    ("laid_runs", "code", "pointer"),
    [
        ((LaidRun(row=3, run=1, lengths_m=(1.0,)),), "run-unknown", "/laid/0"),
        ((LaidRun(row=1, run=2, lengths_m=(1.0,)),), "run-unknown", "/laid/0"),
        (
            (LaidRun(row=1, run=1, lengths_m=(1.0,)), LaidRun(row=1, run=1, lengths_m=(1.0,))),
            "run-named-twice",
            "/laid/1",
        ),
        ((LaidRun(row=2, run=1, lengths_m=(1.2, 1.2, 0.9)),), "laid-past-end", "/laid/0/lengths/2"),
    ],
)
def test_a_state_that_contradicts_the_plan_is_refused_with_its_place(
    laid_runs: tuple[LaidRun, ...], code: str, pointer: str
) -> None:
    with pytest.raises(InputRefused) as refused:
        Progress(runs=_runs(3.0, 3.0), laid=laid_runs)
    assert [(p.code, p.pointer) for p in refused.value.problems] == [(code, pointer)]


def test_the_outlook_is_nothing_for_nothing_and_what_boards_of_one_length_leave_by_hand() -> None:
    rules = replace(RULES, lengths_m=(1.0,))
    outlook = Outlook(rules=rules, longest_m=3.0)
    assert outlook.waste_m(0.0) == 0.0
    assert outlook.waste_m(2.0) == pytest.approx(0.0)  # two whole boards
    assert outlook.waste_m(0.9) == pytest.approx(0.1 + 0.01)  # a cut, and 0.1 m too short to keep
    assert outlook.waste_m(0.5) == pytest.approx(0.01 + 0.003 + 0.03)  # a cut, a kerf, an offcut kept


@settings(max_examples=6, deadline=None)
@given(st.floats(2.0, 3.6), st.floats(1.2, 2.4), st.integers(0, 50))
def test_a_floor_laid_by_asking_is_full_of_pieces_that_keep_the_rules(
    width: float, height: float, seed: int
) -> None:
    covering = replace(starter.covering(), direction_deg=0.0)
    hole = rectangle(0.8, 0.5, 1.2, 0.9)
    layout = laid(floor_of(rectangle(0, 0, width, height), holes=(hole,)), covering=covering, seed=seed)
    crew = Crew(layout=layout, rng=np.random.default_rng(seed))
    crew.work()
    joints: dict[int, list[float]] = {}
    for run in layout.runs:
        ends = run.start_m + np.cumsum(crew.laid[run.row, run.run])
        assert ends[-1] == pytest.approx(run.end_m, abs=2e-3)
        pieces = crew.laid[run.row, run.run]
        assert min(pieces) >= covering.least_piece_m - 1e-6 or len(pieces) == 1
        joints.setdefault(run.row, []).extend(float(end) for end in ends[:-1])
    close = sum(
        min((abs(u - v) for v in joints.get(row - 1, ())), default=1.0) < covering.stagger_m - 1e-6
        for row, places in joints.items()
        for u in places
    )
    flagged = sum(placing.too_close for placing in crew.placings)
    assert close <= 2 * flagged
    assert flagged <= len(crew.placings) // 10


@pytest.mark.parametrize("bundle_m", [(1.1, 1.6, 2.05), (0.5, 0.66, 0.83, 1.01, 1.37, 1.93)])
def test_a_bundle_of_other_lengths_than_the_plan_was_made_for_lays_its_rows_too(
    bundle_m: tuple[float, ...],
) -> None:
    covering = replace(starter.covering(), direction_deg=0.0)
    layout = laid(floor_of(rectangle(0, 0, 3.2, 1.8)), covering=covering)
    crew = Crew(layout=layout, rng=np.random.default_rng(3), bundle_m=bundle_m)
    crew.work()
    for run in layout.runs:
        pieces = crew.laid[run.row, run.run]
        assert sum(pieces) == pytest.approx(run.end_m - run.start_m, abs=2e-3)
        assert min(pieces) >= covering.least_piece_m - 1e-6
    flagged = sum(placing.too_close for placing in crew.placings)
    assert flagged <= len(crew.placings) // 10


def test_a_bundle_holds_no_length_below_the_least_piece() -> None:
    with pytest.raises(InputRefused) as refused:
        next_board(runs=_runs(3.0), rules=RULES, laid=(), board=Board(length_m=0.8), bundle_m=(0.8, 0.1))
    assert [(p.code, p.pointer) for p in refused.value.problems] == [("board-too-short", "/bundle/1")]
