"""The next board: where it is laid best, while boards are laid as they come.

Nothing is kept between two calls: plan, state and board decide the answer, so that asking again gives it
again. Costs are metres of waste, as the plan itself counts them; the weights are our own.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from slab_core.errors import refuse
from slab_core.layout.beside import Beside
from slab_core.layout.distances import NO_CUT_M
from slab_core.layout.model import BoardRules, RowRun
from slab_core.layout.outlook import CUT_M, KEPT_M, SET_ASIDE_M, Outlook
from slab_core.layout.progress import LaidRun, OpenRun, Progress

_IDLE_M, _LATER_M, _DEAR_M = 0.05, 0.005, 0.15
_TRIMS = 12
_FITS_M = 1e-9

Cut = Literal["none", "start", "end"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """A board or offcut in hand. An end that is not whole has been cut and goes to a wall."""

    length_m: float
    whole_start: bool = True
    whole_end: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Placing:
    """Where a board goes: the piece of `order` in a run, from `start_m` to `end_m`, cut at one of its ends or
    not. Of what is cut off, `kept_m` is an offcut worth keeping, for the start or the end of a later run, and
    `lost_m` is not. `too_close`: its joint breaks the stagger, or stands in line with one two rows away."""

    row: int
    run: int
    order: int
    start_m: float
    end_m: float
    cut: Cut
    kept_m: float
    kept_for: Literal["start", "end"] | None
    lost_m: float
    cost_m: float
    nearest_joint_m: float | None
    too_close: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class NextBoard:
    """The best place, or None where the board is better set aside, and why."""

    placing: Placing | None
    reason: str


def next_board(
    *,
    runs: Sequence[RowRun],
    rules: BoardRules,
    laid: Sequence[LaidRun],
    board: Board,
    open_rows: int = 4,
    bundle_m: tuple[float, ...] = (),
) -> NextBoard:
    """Where a board is laid best in the rows that are open.

    Every open run is tried: whole, cut to end the run, or, as a run's first piece, cut at its start. A place
    counts by what is lost there, by how that changes what the run may be expected to waste, by how many
    lengths of the bundle may follow it, and by joints nearer than the stagger, which are taken only where no
    length of the bundle would do better. Rows are laid up to where the row before backs them. `bundle_m`:
    lengths of the bundle at hand where they are not the plan's; else boards wait for lengths that never come.

    Raises
    ------
    InputRefused
        for a state that contradicts the plan (see Progress), and a board shorter than the least piece.
    """
    _refuse_short(board.length_m, rules=rules, pointer="/board/length")
    for place, length_m in enumerate(bundle_m):
        _refuse_short(length_m, rules=rules, pointer=f"/bundle/{place}")
    rules = replace(rules, lengths_m=bundle_m or rules.lengths_m)
    progress = Progress(runs=runs, laid=laid)
    found = progress.open_runs(rows=open_rows)
    if not found:
        return NextBoard(placing=None, reason="every run is full: the floor is laid")
    floor = Beside(progress=progress, rules=rules)
    outlook = Outlook(rules=rules, longest_m=max(of.rest_m() for of in found))

    def best(of_board: Board) -> Placing | None:
        placings = (
            placing for of in found for placing in _placings(of, board=of_board, floor=floor, outlook=outlook)
        )
        first = found[0].run.row
        return min(
            placings, key=lambda p: (p.cost_m + _LATER_M * (p.row - first), p.row, p.run), default=None
        )

    placing = best(board)
    if placing is None:
        why = "it fits no open run without leaving a piece too short"
        return NextBoard(placing=None, reason=_aside(board, why=why))
    if placing.cost_m > _DEAR_M and _worth_waiting(placing, board=board, best=best, rules=rules):
        return NextBoard(placing=None, reason=_aside(board, why=_no_place(placing, rules=rules)))
    return NextBoard(placing=placing, reason=_why(placing, rules=rules))


def _refuse_short(length_m: float, *, rules: BoardRules, pointer: str) -> None:
    if length_m < rules.least_piece_m - _FITS_M:
        detail = (
            f"a piece of {length_m:.3f} m is shorter than the least that is laid, "
            f"{rules.least_piece_m:.3f} m; leave it out"
        )
        raise refuse(code="board-too-short", detail=detail, pointer=pointer)


def _worth_waiting(
    placing: Placing, *, board: Board, best: Callable[[Board], Placing | None], rules: BoardRules
) -> bool:
    """Whether setting a board aside costs less than the next of the bundle may be expected to save. An offcut
    waits anyway: there are boards to go on with."""
    if not (board.whole_start and board.whole_end):
        return True
    others = [best(Board(length_m=length)) for length in rules.lengths_m]
    saved = [max(0.0, placing.cost_m - other.cost_m) if other else 0.0 for other in others]
    return float(np.mean(saved)) > SET_ASIDE_M


def _aside(board: Board, *, why: str) -> str:
    whole = board.whole_start and board.whole_end
    return f"{why}; {'set it aside' if whole else 'keep it'} for a later row"


def _no_place(best: Placing, *, rules: BoardRules) -> str:
    if best.too_close:
        return f"in every open run its joint would come {_too_close(rules)}"
    lost = f", {best.lost_m:.3f} m of it lost" if best.lost_m else ""
    return f"its best place is in row {best.row}{lost}, where few boards could follow it"


def _too_close(rules: BoardRules) -> str:
    return (
        f"nearer than {rules.stagger_m:.3f} m to one of the row beside it, or in line with one two rows away"
    )


def _why(placing: Placing, *, rules: BoardRules) -> str:
    what = {
        "none": "lay it whole",
        "end": f"cut it to {placing.end_m - placing.start_m:.3f} m to end the run",
        "start": f"cut {placing.kept_m + placing.lost_m:.3f} m off its start and begin the run with it",
    }[placing.cut]
    words = [f"{what} in row {placing.row}"]
    if placing.kept_for:
        words.append(f"keep the offcut of {placing.kept_m:.3f} m for the {placing.kept_for} of a later row")
    if placing.nearest_joint_m is not None:
        words.append(f"the nearest joint in the rows beside it is {placing.nearest_joint_m:.3f} m away")
    if placing.too_close:
        words.append(f"its joint comes {_too_close(rules)}, but no board of the bundle does better")
    return "; ".join(words)


def _placings(of: OpenRun, *, board: Board, floor: Beside, outlook: Outlook) -> Iterator[Placing]:
    rest, first, rules = of.rest_m(), of.order == 1, floor.rules
    if not board.whole_start and not first:
        return
    before_m = float(outlook.waste_m(rest))
    for use, cut in _uses(board=board, rest=rest, first=first, rules=rules):
        ends = use >= rest - NO_CUT_M
        end = of.run.end_m if ends else of.at_m + use
        if end > of.backed_to_m + _FITS_M:
            continue
        kept, lost = _left(board, used=min(use, rest), cut=cut, single=ends and first, rules=rules)
        kept_for = _kept_for(board, cut=cut, single=ends and first) if kept else None
        cost = CUT_M * (cut != "none") + lost + KEPT_M * (kept > 0) - before_m
        if kept_for == "start":
            cost += _IDLE_M * floor.is_idle(of.run, kept_m=kept)
        near, close = None, False
        if not ends:
            near, penalty = floor.joint(of.run.row, at_m=end)
            close = penalty > 0.0
            cost += penalty + float(outlook.waste_m(rest - use)) + floor.hemmed_in(of.run, at_m=end)
        yield Placing(
            row=of.run.row,
            run=of.run.run,
            order=of.order,
            start_m=of.at_m,
            end_m=end,
            cut=cut,
            kept_m=kept,
            kept_for=kept_for,
            lost_m=lost,
            cost_m=cost,
            nearest_joint_m=near,
            too_close=close,
        )


def _uses(*, board: Board, rest: float, first: bool, rules: BoardRules) -> Iterator[tuple[float, Cut]]:
    """Lengths of the board that may be laid next, and which end is cut for it."""
    length, least = board.length_m, rules.least_piece_m
    over = length - rest
    if over > NO_CUT_M:
        if first or board.whole_start:
            yield rest, "end"
    elif over >= -NO_CUT_M:
        if first or board.whole_start:
            yield rest, "none"
    elif board.whole_end and -over >= least - _FITS_M:
        yield length, "none"
    if first and board.whole_end:
        most = min(length - rules.kerf_m, rest - least)
        for use in np.linspace(least, most, _TRIMS) if most > least else ():
            yield float(use), "start"


def _left(board: Board, *, used: float, cut: Cut, single: bool, rules: BoardRules) -> tuple[float, float]:
    """What is kept and what is lost of a board; what has two cut ends is of no use again."""
    over = board.length_m - used
    if cut == "none":
        return 0.0, 0.0
    rest = over - rules.kerf_m
    # A piece from wall to wall needs no whole end, so it comes off the cut end.
    has_whole_end = single or (board.whole_end if cut == "end" else board.whole_start)
    return (rest, rules.kerf_m) if has_whole_end and rest >= rules.least_piece_m else (0.0, over)


def _kept_for(board: Board, *, cut: Cut, single: bool) -> Literal["start", "end"]:
    """Its whole end joins on: an offcut whole at its end begins a run."""
    if single:
        return "start" if board.whole_end else "end"
    return "start" if cut == "end" else "end"
