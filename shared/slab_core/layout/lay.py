"""Boards on one floor: rows, cut list, spreads, cartons and trim."""

from dataclasses import replace
from itertools import groupby

from slab_core.errors import Problem, refuse
from slab_core.layout.boards import RowNotLaid, short_m
from slab_core.layout.checks import closure_checks, control_line_of, stair_steps, tapered_rips
from slab_core.layout.close_joints import close_joints
from slab_core.layout.edges import casing_legs_of, transitions, undercut_m_of
from slab_core.layout.findings import (
    late_problems,
    row_problems,
    spread_problems,
    stagger_problems,
    way_out_problems,
)
from slab_core.layout.frame import cover_shape
from slab_core.layout.model import BoardRules, DirectionChoice, Layout, LeastWaste, Piece, RowRun
from slab_core.layout.ordering import cartons_to_order
from slab_core.layout.pieces import more_cuts, piece_area_m2, shaped_pieces
from slab_core.layout.rips import rip_m
from slab_core.layout.rows import Stretch
from slab_core.layout.spreads import Spreading, areas_by_row, greatest_spread_m2, phases_of, with_pieces
from slab_core.layout.trial import Trial, both_directions, lay_along
from slab_core.materials.model import Adhesive, Climate, Covering
from slab_core.materials.rates_model import Rates
from slab_core.numerics.budget import Budget
from slab_core.rooms.model import Floor

_SMALLEST_M2 = 1e-4


def lay(
    *,
    floor: Floor,
    covering: Covering,
    adhesive: Adhesive,
    rates: Rates,
    climate: Climate,
    seed: int,
    budget: Budget,
) -> Layout:
    """Lay boards over a floor in rows, from a bundle drawn with `seed`.

    Rows along the longest wall and across it are both laid and the less wasteful is kept; where the covering
    has a direction it is taken, and rows across it are laid to compare. Thresholds, doors and phases are read
    from the floor's rooms. After the budget's deadline fewer sequences are tried, and a warning says so.

    Raises
    ------
    InputRefused
        for a covering that cannot be laid (a length, width or gap that is no size).
    """
    _check(covering)
    shape = cover_shape(floor=floor, gap_m=covering.expansion_gap_m, under_m=covering.undercut_m)
    if shape.area < _SMALLEST_M2:
        return _nothing_to_lay(floor=floor, covering=covering)
    greatest = greatest_spread_m2(adhesive=adhesive, rates=rates, climate=climate)
    spreading = Spreading(greatest_m2=greatest, rates=rates, film_m=adhesive.film_m)

    def along(direction_deg: float, of: Covering) -> Trial:
        return lay_along(
            floor=floor,
            shape=shape,
            direction_deg=direction_deg,
            covering=of,
            spreading=spreading,
            seed=seed,
            budget=budget,
        )

    try:
        why, trials = both_directions(along, floor=floor, covering=covering)
    except RowNotLaid as unlaid:
        return _nothing_to_lay(floor=floor, covering=covering, why=str(unlaid))
    layout = _layout(floor=floor, covering=covering, spreading=spreading, trials=trials, budget=budget)
    return replace(layout, chosen_by=why)


def _check(covering: Covering) -> None:
    sizes = {
        "width": covering.width_m,
        "carton_m2": covering.carton_m2,
        "lengths": min(covering.lengths_m, default=0.0),
    }
    for name, size in sizes.items():
        if not size > 0:
            raise refuse(
                code="covering-without-size",
                detail=f"the covering's {name} is {size}; give what a board or carton measures",
                pointer=f"/covering/{name}",
            )
    if covering.least_piece_m > min(covering.lengths_m):
        detail = (
            f"the least piece ({covering.least_piece_m:.3f} m) is longer than the shortest board "
            f"({min(covering.lengths_m):.3f} m); give a shorter least piece"
        )
        raise refuse(code="least-piece-too-long", detail=detail, pointer="/covering/least_piece")


def _layout(
    *,
    floor: Floor,
    covering: Covering,
    spreading: Spreading,
    trials: tuple[Trial, ...],
    budget: Budget,
) -> Layout:
    """The layout of the first trial, with the others beside it."""
    trial, shaped = trials[0], [_pieces(each, covering=covering) for each in trials]
    choices = tuple(
        _choice(each, pieces=pieces, covering=covering) for each, pieces in zip(trials, shaped, strict=True)
    )
    pieces = shaped[0]
    stretches, lines = trial.plan.stretches, trial.plan.lines
    close = close_joints(joints=trial.laid.joints, stagger_m=covering.stagger_m)
    runs = _runs(stretches)
    phases = phases_of(floor=floor, frame=trial.frame, parts=pieces)
    areas = areas_by_row(parts=pieces, phases=phases, m2=[piece_area_m2(piece) for piece in pieces])
    spreads = with_pieces(
        spreads=spreading.spreads(areas=areas, stretches=stretches),
        pieces=pieces,
        phases=phases,
    )
    return Layout(
        floor_id=floor.id,
        direction_deg=trial.frame.direction_deg,
        origin=trial.frame.origin,
        rows=len(lines) - 1,
        first_row_m=float(lines[1]),
        last_row_m=float(lines[-1] - lines[-2]),
        pieces=pieces,
        boards=trial.laid.pile.taken,
        covered_m2=trial.covered_m2,
        bought_m2=trial.bought_m2,
        waste_share=choices[0].waste_share,
        waste_bound_share=choices[0].waste_bound_share,
        least_waste=_least_waste(trial),
        cuts=choices[0].cuts,
        ripped_m=choices[0].ripped_m,
        joints_too_close=trial.laid.too_close,
        close_joints=close,
        cartons=choices[0].cartons,
        spreads=spreads,
        transitions=transitions(floor=floor),
        base_m=floor.wall_m,
        undercut_m=sum(undercut_m_of(floor=floor).values()),
        undercut_depth_m=covering.undercut_m + covering.expansion_gap_m if covering.undercut_m else 0.0,
        undercut_height_m=covering.thickness_m + spreading.film_m,
        casing_legs=sum(casing_legs_of(floor=floor).values()),
        runs=runs,
        rules=BoardRules(
            lengths_m=tuple(sorted(set(covering.lengths_m))),
            stagger_m=covering.stagger_m,
            least_piece_m=covering.least_piece_m,
            kerf_m=covering.kerf_m,
        ),
        lines_m=tuple(float(line) for line in lines),
        control_line=control_line_of(runs=runs, rows=len(lines) - 1),
        closures=closure_checks(runs=runs, lines_m=lines),
        tapered_rips=tapered_rips(stretches=stretches, runs=runs, width_m=covering.width_m),
        stair_steps=stair_steps(joints=trial.laid.joints, stagger_m=covering.stagger_m),
        short_m=short_m(covering),
        short_pairs=trial.laid.short_pairs,
        directions=choices,
        problems=(
            *row_problems(trial=trial, close=close, covering=covering),
            *stagger_problems(covering=covering),
            *spread_problems(spreads=spreads, greatest_m2=spreading.greatest_m2),
            *way_out_problems(shut=trial.shut),
            *late_problems(budget=budget),
        ),
    )


def _pieces(trial: Trial, *, covering: Covering) -> tuple[Piece, ...]:
    return shaped_pieces(cuts=trial.laid.cuts, width_m=covering.width_m)


def _choice(trial: Trial, *, pieces: tuple[Piece, ...], covering: Covering) -> DirectionChoice:
    return DirectionChoice(
        direction_deg=trial.frame.direction_deg,
        rows=len(trial.plan.lines) - 1,
        boards=trial.laid.pile.taken,
        bought_m2=trial.bought_m2,
        waste_share=1.0 - trial.covered_m2 / trial.bought_m2,
        waste_bound_share=1.0 - trial.covered_m2 / trial.search.least.all_m2(),
        cuts=trial.laid.cross_cuts + more_cuts(cuts=trial.laid.cuts, pieces=pieces),
        ripped_m=sum(rip_m(piece, width_m=covering.width_m) for piece in pieces),
        cartons=cartons_to_order(bought_m2=trial.bought_m2, covering=covering),
        thin_rip_m=trial.plan.thin_rip_m,
        joints_too_close=trial.laid.too_close,
    )


def _least_waste(trial: Trial) -> LeastWaste:
    least = trial.search.least
    return LeastWaste(
        ripped_m2=least.stretches_m2 - trial.covered_m2,
        kerf_m2=least.kerf_m2,
        whole_boards_m2=least.whole_boards_m2,
    )


def _runs(stretches: tuple[Stretch, ...]) -> tuple[RowRun, ...]:
    return tuple(
        RowRun(row=row, run=run, start_m=s.start_m, end_m=s.end_m, near_m=s.near_m, far_m=s.far_m)
        for row, group in groupby(stretches, key=lambda s: s.row)
        for run, s in enumerate(group, start=1)
    )


def _nothing_to_lay(*, floor: Floor, covering: Covering, why: str = "") -> Layout:
    gap_mm = covering.expansion_gap_m * 1000
    detail = why or f"floor “{floor.id}” is no wider than twice the expansion gap of {gap_mm:.0f} mm"
    return Layout(
        floor_id=floor.id,
        direction_deg=covering.direction_deg or 0.0,
        origin=floor.shell[0],
        rows=0,
        first_row_m=0.0,
        last_row_m=0.0,
        pieces=(),
        boards=0,
        covered_m2=0.0,
        bought_m2=0.0,
        waste_share=0.0,
        waste_bound_share=0.0,
        cuts=0,
        joints_too_close=0,
        cartons=0,
        spreads=(),
        transitions=(),
        base_m=0.0,
        undercut_m=0.0,
        casing_legs=0,
        problems=(Problem(code="nothing-to-lay", detail=detail, severity="refusal"),),
    )
