"""Laying stretches from the pile, row after row."""

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from slab_core.errors import SlabError
from slab_core.layout.distances import NO_CUT_M, ROW_AFTER_NEXT_M
from slab_core.layout.pile import Offcut, Pile
from slab_core.layout.rows import Stretch
from slab_core.layout.sequence import BOARD, ENDER, STARTER, TOO_CLOSE, best_sequence, joint_cost, touching
from slab_core.materials.model import Covering
from slab_core.numerics.grid import Floats

_HARDER = 5
_STEPS = 32
_FEW, _KEEP, _KEEP_M, _LOST = 2, 0.02, 0.01, 0.9


Shorts = tuple[float, Floats, Floats]


def short_m(covering: Covering) -> float:
    """A piece shorter than half the mean board is short: several together catch the eye."""
    return sum(covering.lengths_m) / len(covering.lengths_m) / 2


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
    short_pairs: int = 0
    joints: dict[int, list[float]] = field(default_factory=dict)
    shorts: dict[int, list[tuple[float, float]]] = field(default_factory=dict)

    def copy(self) -> "Laid":
        """The same so far; laying goes on in either without the other."""
        return replace(
            self,
            pile=self.pile.copy(),
            cuts=list(self.cuts),
            joints={row: list(places) for row, places in self.joints.items()},
            shorts={row: list(spans) for row, spans in self.shorts.items()},
        )


def lay_next(*, laid: Laid, left: tuple[Stretch, ...], covering: Covering, tries: int, more: int = 0) -> None:
    """Lay the first of the stretches that are left: the best of so many random sequences. So many `more`
    boards are opened where none of them keeps joints apart.

    Raises
    ------
    RowNotLaid
        when no sequence is found even with pieces below the least length.
    """
    laid.pile.open(need_m=sum(stretch.length_m() for stretch in left))
    keep = _keep_cost(laid.pile, rows_left=len(left) - 1)
    _lay_stretch(laid=laid, stretch=left[0], covering=covering, keep=keep, tries=tries, more=more)


def _keep_cost(pile: Pile, *, rows_left: int) -> tuple[float, float]:
    """What an offcut kept costs, and each metre of it: little, and more with every one that waits already;
    nearly all of it when few rows are left to use it."""
    waiting = len(pile.starters) + len(pile.enders)
    if rows_left <= waiting:
        return 0.0, _LOST
    return _KEEP * max(1, waiting - _FEW + 1), _KEEP_M


def _lay_stretch(
    *, laid: Laid, stretch: Stretch, covering: Covering, keep: tuple[float, float], tries: int, more: int
) -> None:
    near1 = _joints(laid, row=stretch.row - 1, start_m=stretch.start_m)
    near2 = _joints(laid, row=stretch.row - 2, start_m=stretch.start_m)
    joints = (near1, near2, covering.stagger_m, ROW_AFTER_NEXT_M)
    shorts = _shorts(laid, stretch=stretch, covering=covering)
    for least in (covering.least_piece_m, covering.least_piece_m / 2, 0.001):
        cutting = (least, covering.kerf_m, NO_CUT_M, *keep)
        sequence = _search(
            laid.pile,
            length=stretch.length_m(),
            cutting=cutting,
            joints=joints,
            shorts=shorts,
            tries=tries,
            more=more,
        )
        if len(sequence):
            _place(
                laid=laid, stretch=stretch, sequence=sequence, joints=joints, shorts=shorts, covering=covering
            )
            return
    raise RowNotLaid(f"no boards span row {stretch.row} from {stretch.start_m:.3f} to {stretch.end_m:.3f} m")


def _search(
    pile: Pile,
    *,
    length: float,
    cutting: tuple[float, float, float, float, float],
    joints: tuple[Floats, Floats, float, float],
    shorts: Shorts,
    tries: int,
    more: int,
) -> Floats:
    """Best sequence of so many tries, and of several times as many where its joints come too close; boards
    are opened one by one while the pile has none that fits, and so many `more` for joints' sake."""
    starters = np.array([offcut.length_m for offcut in pile.starters])
    enders = np.array([offcut.length_m for offcut in pile.enders])
    for opened in range(len(pile.kinds) * 8):
        boards = (pile.kinds, pile.counts, starters, enders)
        for count in (tries, tries * _HARDER):
            chances = pile.rng.random((count, _STEPS))
            cost, sequence = best_sequence(length, boards, cutting, joints, shorts, chances)
            if cost < TOO_CLOSE:
                break
        if len(sequence) and (cost < TOO_CLOSE or opened >= more):
            break
        pile.draw()
    return np.asarray(sequence, dtype=np.float64)


def _shorts(laid: Laid, *, stretch: Stretch, covering: Covering) -> Shorts:
    """Below which length a piece is short, and the short ones of the row before, from the stretch's start."""
    before = np.array(laid.shorts.get(stretch.row - 1, []), dtype=np.float64).reshape(-1, 2) - stretch.start_m
    return short_m(covering), np.ascontiguousarray(before[:, 0]), np.ascontiguousarray(before[:, 1])


def _joints(laid: Laid, *, row: int, start_m: float) -> Floats:
    return np.array(laid.joints.get(row, []), dtype=np.float64) - start_m


def _place(
    *,
    laid: Laid,
    stretch: Stretch,
    sequence: Floats,
    joints: tuple[Floats, Floats, float, float],
    shorts: Shorts,
    covering: Covering,
) -> None:
    taken = _taken(laid.pile, sequence=sequence)
    row = laid.joints.setdefault(stretch.row, [])
    at, last = stretch.start_m, len(sequence) - 1
    before_m = np.inf
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
        if trimmed and (what == BOARD or last == 0):
            as_ender = from_start or what == ENDER
            _keep(laid.pile, piece=piece, used_m=end - at, as_ender=as_ender, covering=covering)
        if k < last:
            row.append(end)
            laid.too_close += joint_cost(end - stretch.start_m, *joints) >= 1.0
        if end - at < shorts[0]:
            laid.short_pairs += touching(at - stretch.start_m, end - at, k, before_m, shorts)
            laid.shorts.setdefault(stretch.row, []).append((at, end))
        before_m = end - at
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


def _keep(pile: Pile, *, piece: Offcut, used_m: float, as_ender: bool, covering: Covering) -> None:
    rest = piece.length_m - used_m - covering.kerf_m
    if rest >= covering.least_piece_m:
        offcut = Offcut(length_m=rest, board=piece.board, board_length_m=piece.board_length_m)
        (pile.enders if as_ender else pile.starters).append(offcut)
