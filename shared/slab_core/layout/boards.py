"""Laying a floor's stretches from the pile, row after row."""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from slab_core.errors import SlabError
from slab_core.layout.pile import Offcut, Pile
from slab_core.layout.rows import Stretch
from slab_core.layout.sequence import BOARD, ENDER, STARTER, TOO_CLOSE, best_sequence, joint_cost
from slab_core.materials.model import Covering
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats

ROW_AFTER_NEXT_M = 0.05
"""Joints of a row and the row after next closer than this read as one line: an H."""

NO_CUT_M = 0.0005
"""A board this much too long goes in uncut; the expansion gap takes it."""

_TRIES = 200
_TRIES_LATE = 20
_HARDER = 5
_STEPS = 64
_LAST_SHARE = 0.1
_KEEP, _KEEP_MORE, _KEEP_AT_THE_END = 0.05, 0.06, 0.9


class RowNotLaid(SlabError):
    """No sequence of boards spans a stretch."""

    code = "row-not-laid"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """A piece along its row, before its shape across the row is known."""

    stretch: Stretch
    start_m: float
    end_m: float
    board: Offcut
    source: Literal["board", "offcut"]
    cut_start: bool
    cut_end: bool


@dataclass(slots=True)
class Laid:
    """Everything laid: cuts in order, cross cuts made, joints too close, and the pile as it is left."""

    pile: Pile
    cuts: list[Cut] = field(default_factory=list)
    cross_cuts: int = 0
    too_close: int = 0
    short_pieces: int = 0
    joints: dict[int, list[float]] = field(default_factory=dict)


def lay_boards(
    *, stretches: tuple[Stretch, ...], covering: Covering, rng: np.random.Generator, budget: Budget
) -> Laid:
    """Fill every stretch, choosing for each the best of many random sequences.

    Raises
    ------
    RowNotLaid
        when no sequence is found even with pieces below the least length.
    """
    laid = Laid(pile=Pile(kinds=np.array(sorted(set(covering.lengths_m))), rng=rng))
    whole_m = sum(stretch.length_m() for stretch in stretches)
    rest_m = whole_m
    for stretch in stretches:
        late = budget.left_s() <= 0.0
        laid.pile.open(need_m=rest_m)
        keep = _keep_cost(laid.pile, near_the_end=rest_m <= _LAST_SHARE * whole_m)
        _lay_stretch(
            laid=laid, stretch=stretch, covering=covering, keep=keep, tries=_TRIES_LATE if late else _TRIES
        )
        rest_m -= stretch.length_m()
    return laid


def _keep_cost(pile: Pile, *, near_the_end: bool) -> float:
    """What a kept metre costs: more with every offcut that waits already, and nearly all of it when
    few rows are left to use it."""
    waiting = _KEEP + _KEEP_MORE * (len(pile.starters) + len(pile.enders))
    return min(_KEEP_AT_THE_END, waiting) if not near_the_end else _KEEP_AT_THE_END


def _lay_stretch(*, laid: Laid, stretch: Stretch, covering: Covering, keep: float, tries: int) -> None:
    near1 = _joints(laid, row=stretch.row - 1, start_m=stretch.start_m)
    near2 = _joints(laid, row=stretch.row - 2, start_m=stretch.start_m)
    joints = (near1, near2, covering.stagger_m, ROW_AFTER_NEXT_M)
    for least in (covering.least_piece_m, covering.least_piece_m / 2, 0.001):
        cutting = (least, covering.kerf_m, NO_CUT_M, keep)
        sequence = _search(laid.pile, length=stretch.length_m(), cutting=cutting, joints=joints, tries=tries)
        if len(sequence):
            _place(laid=laid, stretch=stretch, sequence=sequence, joints=joints, covering=covering)
            return
    raise RowNotLaid(f"no boards span row {stretch.row} from {stretch.start_m:.3f} to {stretch.end_m:.3f} m")


def _search(
    pile: Pile,
    *,
    length: float,
    cutting: tuple[float, float, float, float],
    joints: tuple[Floats, Floats, float, float],
    tries: int,
) -> Floats:
    """Best sequence of so many tries, and of more where its joints come too close; boards are opened one
    by one while the pile has none that fits."""
    starters = np.array([offcut.length_m for offcut in pile.starters])
    enders = np.array([offcut.length_m for offcut in pile.enders])
    for _ in range(len(pile.kinds) * 8):
        boards = (pile.kinds, pile.counts, starters, enders)
        for more in (tries, tries * _HARDER):
            chances = pile.rng.random((more, _STEPS))
            cost, sequence = best_sequence(length, boards, cutting, joints, chances)
            if cost < TOO_CLOSE:
                break
        if len(sequence):
            break
        pile.draw()
    return np.asarray(sequence, dtype=np.float64)


def _joints(laid: Laid, *, row: int, start_m: float) -> Floats:
    return np.array(laid.joints.get(row, []), dtype=np.float64) - start_m


def _place(
    *,
    laid: Laid,
    stretch: Stretch,
    sequence: Floats,
    joints: tuple[Floats, Floats, float, float],
    covering: Covering,
) -> None:
    taken = _taken(laid.pile, sequence=sequence)
    row = laid.joints.setdefault(stretch.row, [])
    at, last = stretch.start_m, len(sequence) - 1
    for k, (piece, length) in enumerate(zip(taken, sequence[:, 2], strict=True)):
        what = int(sequence[k, 0])
        end = stretch.end_m if k == last else at + float(length)
        trimmed = piece.length_m - (end - at) > NO_CUT_M
        from_start = trimmed and k == 0 and last > 0
        laid.cross_cuts += trimmed
        laid.cuts.append(
            Cut(
                stretch=stretch,
                start_m=at,
                end_m=end,
                board=piece,
                source="board" if what == BOARD else "offcut",
                cut_start=what == STARTER or from_start,
                cut_end=what == ENDER or (trimmed and not from_start),
            )
        )
        if trimmed and what == BOARD:
            _keep(laid.pile, piece=piece, used_m=end - at, from_start=from_start, covering=covering)
        if k < last:
            row.append(end)
            laid.too_close += joint_cost(end - stretch.start_m, *joints) >= 1.0
        laid.short_pieces += end - at < covering.least_piece_m - 1e-9 and last > 0
        at = end


def _taken(pile: Pile, *, sequence: Floats) -> list[Offcut]:
    """The boards and offcuts of a sequence, removed from the pile."""
    starters, enders = list(pile.starters), list(pile.enders)
    taken = []
    for what, which in sequence[:, :2].astype(int):
        if what == BOARD:
            taken.append(pile.take(which))
        else:
            taken.append((starters if what == STARTER else enders)[which])
            (pile.starters if what == STARTER else pile.enders).remove(taken[-1])
    return taken


def _keep(pile: Pile, *, piece: Offcut, used_m: float, from_start: bool, covering: Covering) -> None:
    rest = piece.length_m - used_m - covering.kerf_m
    if rest >= covering.least_piece_m:
        offcut = Offcut(length_m=rest, board=piece.board, board_length_m=piece.board_length_m)
        (pile.enders if from_start else pile.starters).append(offcut)
