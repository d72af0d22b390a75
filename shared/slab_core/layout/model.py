"""How the boards lie on one floor. Lengths in metres.

Rows run along `direction_deg`; positions along a row and across the rows are measured from
`origin` in that turned frame.
"""

from dataclasses import dataclass
from typing import Literal

from slab_core.errors import Problem
from slab_core.rooms.model import Point, Ring


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One piece of board as it lies. Rows count from 1, `order` from 1 along each row. `board` counts the
    boards taken from the cartons, from 1; an offcut names the board it came from. `ripped`: it is cut along
    the board, straight, tapered or round a notch; a slant across an end is a cut there. `outline` is set, in
    the turned frame, where the piece is no rectangle; with more than one ring it is more than one strip of
    the same board."""

    row: int
    order: int
    start_m: float
    end_m: float
    near_m: float
    far_m: float
    board: int
    board_length_m: float
    source: Literal["board", "offcut"]
    cut_start: bool
    cut_end: bool
    ripped: bool
    outline: tuple[Ring, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Rows laid in one application of adhesive. `held`: one of them has nothing behind it to be clamped
    against over half of a run and needs a temporary hold; `held_rows` are these. `pieces` are those of the
    stack for it, cut and at hand before the adhesive is open: their numbers in the layout's pieces, from 1,
    in laying order. Earlier results lack both."""

    order: int
    phase: int
    first_row: int
    last_row: int
    area_m2: float
    minutes: float
    held: bool
    pieces: tuple[int, ...] = ()
    held_rows: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RowRun:
    """A connected part of a row, laid from `start_m` to `end_m`. `run` counts from 1 along its row, more than
    one where an obstacle or a recess parts the row."""

    row: int
    run: int
    start_m: float
    end_m: float
    near_m: float
    far_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardRules:
    """What every piece and joint has to keep, and the lengths that boards come in."""

    lengths_m: tuple[float, ...]
    stagger_m: float
    least_piece_m: float
    kerf_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosureCheck:
    """Rows that pass an obstacle on both sides and meet again behind it. On either side the line behind
    `last_row` must be `across_m` from the line before `first_row`, measured with a tape at `left_m` and
    `right_m` along the rows, before the row that joins them is laid."""

    first_row: int
    last_row: int
    left_m: float
    right_m: float
    across_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TaperedRip:
    """A run ripped along a wall out of square: its width where the run starts and where it ends."""

    row: int
    run: int
    start_width_m: float
    end_width_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CloseJoint:
    """A joint nearer to one in a row before it than the rules allow: within the stagger of one in the last
    row, or in line with one in the row before that. Places are along the rows, as those of pieces."""

    row: int
    at_m: float
    near_row: int
    near_at_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DirectionChoice:
    """What laying in one direction comes to; the layout's own is the first. `thin_rip_m` is the length of
    rips below the least width."""

    direction_deg: float
    rows: int
    boards: int
    bought_m2: float
    waste_share: float
    waste_bound_share: float
    cuts: int
    cartons: int
    thin_rip_m: float
    joints_too_close: int
    ripped_m: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TransitionRun:
    """A transition strip along an opening."""

    opening: str
    kind: str
    length_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LeastWaste:
    """What no cutting of these rows saves, in m²: ripped or notched off boards along them, lost in kerfs, and
    what makes the rest whole boards. Culls come on top."""

    ripped_m2: float
    kerf_m2: float
    whole_boards_m2: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Result of the layout stage for one floor.

    `covered_m2` is the net area of boards; `bought_m2` the area of all boards taken; `waste_share` is
    1 - covered/bought; `waste_bound_share` is a proven least of it for this direction and these rows,
    made up of `least_waste`.
    `cuts` are cuts across a board, `ripped_m` the length of cuts along one. `cartons` holds the boards, the
    culls among them and the spare. `runs` and `rules` are what the next board is placed by. `lines_m` are
    the lines between rows and before and behind them all, across the rows from the origin; `control_line`,
    counted from 0, is the one to snap on the slab: the line that most boards touch. `close_joints` are the
    places of the joints that are too close, more than one for a joint that is close to several. `stair_steps`
    counts joints that go on two others in even steps.
    Masonry and door casings are cut `undercut_height_m` above the slab, masonry `undercut_depth_m` deep where
    boards go under it. `short_pairs` counts pairs of pieces, shorter than `short_m` each, that touch end to
    end or side by side. `directions` has every direction that was laid, the other one for a shorter time,
    and `chosen_by` says why the first of them was taken: it was given, it has less of rips below the least
    width, or with as much of those it wastes less (a joint too close counting as waste); or both came to the
    same. Earlier results lack all of these.
    """

    floor_id: str
    direction_deg: float
    origin: Point
    rows: int
    first_row_m: float
    last_row_m: float
    pieces: tuple[Piece, ...]
    boards: int
    covered_m2: float
    bought_m2: float
    waste_share: float
    waste_bound_share: float
    cuts: int
    joints_too_close: int
    cartons: int
    spreads: tuple[Spread, ...]
    transitions: tuple[TransitionRun, ...]
    base_m: float
    undercut_m: float
    casing_legs: int
    undercut_depth_m: float = 0.0
    undercut_height_m: float = 0.0
    runs: tuple[RowRun, ...] = ()
    rules: BoardRules | None = None
    lines_m: tuple[float, ...] = ()
    control_line: int = 0
    closures: tuple[ClosureCheck, ...] = ()
    tapered_rips: tuple[TaperedRip, ...] = ()
    stair_steps: int = 0
    short_m: float = 0.0
    short_pairs: int = 0
    close_joints: tuple[CloseJoint, ...] = ()
    ripped_m: float = 0.0
    directions: tuple[DirectionChoice, ...] = ()
    chosen_by: Literal["", "given", "narrow-rips", "waste", "equal"] = ""
    least_waste: LeastWaste | None = None
    problems: tuple[Problem, ...] = ()
