"""Warnings that come with a layout."""

from collections.abc import Sequence

from slab_core.errors import Problem
from slab_core.layout.close_joints import places_told
from slab_core.layout.model import CloseJoint, Spread
from slab_core.layout.trial import Trial
from slab_core.layout.ways_out import ShutIn
from slab_core.materials.model import Covering
from slab_core.numerics.budget import Budget

_MOST_BARRED = 0.5
"""Of boards drawn as they came for invented rooms of 20 m² no whole one was left where joints bar 0.42 of the
next row, 1-4 % where they bar 0.61, 7-10 % where 0.70."""


def row_problems(*, trial: Trial, close: Sequence[CloseJoint], covering: Covering) -> tuple[Problem, ...]:
    """Warnings where a rule of laying could not be kept."""
    found = []
    if trial.plan.thin_rip_m > 0.01:
        detail = (
            f"{trial.plan.thin_rip_m:.2f} m of edge has a rip narrower than "
            f"{covering.least_rip_m * 1000:.0f} mm {_WHERE_ROWS_LIE[_how_placed(covering)]}"
        )
        found.append(Problem(code="narrow-rip", detail=detail, severity="warning"))
    if trial.laid.too_close:
        detail = (
            f"{trial.laid.too_close} end joints are closer than {covering.stagger_m * 1000:.0f} mm to one in "
            f"the row before, or in line with one in the row before that, measured "
            f"along the rows: {places_told(close)}"
        )
        found.append(Problem(code="joints-too-close", detail=detail, severity="warning"))
    if trial.laid.short_pieces:
        detail = f"{trial.laid.short_pieces} pieces are shorter than {covering.least_piece_m * 1000:.0f} mm"
        found.append(Problem(code="short-pieces", detail=detail, severity="warning"))
    return tuple(found)


_WHERE_ROWS_LIE = {
    "line": "as the rows have a line through the given point; move it, or leave it out",
    "centred": "with a line and with the middle of a row on the middle of the floor; let rows be balanced",
    "balanced": "in every position of the rows that was tried",
}


def _how_placed(covering: Covering) -> str:
    return "line" if covering.line_through is not None else covering.rows_start


def stagger_problems(*, covering: Covering) -> tuple[Problem, ...]:
    """A warning where boards are so short that the joints of a row leave the next little room for its own."""
    mean_m, longest_m = sum(covering.lengths_m) / len(covering.lengths_m), max(covering.lengths_m)
    barred = 2.0 * covering.stagger_m / mean_m
    stagger = f"a stagger of {covering.stagger_m * 1000:.0f} mm"
    if longest_m < 2.0 * covering.stagger_m:
        detail = (
            f"no board is longer than {longest_m:.3f} m, so {stagger} cannot be kept between joints on both "
            f"sides: take longer boards, or {longest_m * 500:.0f} mm at most"
        )
    elif len(set(covering.lengths_m)) > 1 and barred > _MOST_BARRED:
        detail = (
            f"boards of {mean_m:.2f} m on average have joints so often that {stagger} bars {barred:.0%} of "
            "the row beside: laid as they come many are set aside, and one in ten, more of a small floor, is "
            "in hand and whole at the end. They are no waste, but have to be there to choose from: order "
            "more beyond the plan, take longer boards, or a stagger of "
            f"{mean_m * _MOST_BARRED * 500:.0f} mm"
        )
    else:
        return ()
    return (Problem(code="boards-short-for-stagger", detail=detail, severity="warning"),)


def way_out_problems(*, shut: tuple[ShutIn, ...]) -> tuple[Problem, ...]:
    """A warning for every part of the floor that a spread leaves without a way out."""
    return tuple(
        Problem(
            code="walled-in",
            detail=f"once spread {part.after} is laid, rows {part.first_row} to {part.last_row} from "
            f"{part.start_m:.2f} to {part.end_m:.2f} m along them ({part.area_m2:.1f} m²) have no way out "
            "but over fresh boards, from whichever wall laying starts: plan another way out, give their room "
            "an earlier phase, or wait until the boards may be walked on",
            severity="warning",
        )
        for part in shut
    )


def late_problems(*, budget: Budget) -> tuple[Problem, ...]:
    """A warning where the time allowed ran out."""
    if budget.left_s() > 0.0:
        return ()
    detail = "the time allowed ran out; the boards were laid with fewer tries and may waste more than need be"
    return (Problem(code="layout-cut-short", detail=detail, severity="warning"),)


def spread_problems(*, spreads: tuple[Spread, ...], greatest_m2: float) -> tuple[Problem, ...]:
    """A warning where a single row is more than the adhesive's working time allows."""
    long = [s for s in spreads if s.area_m2 > greatest_m2 * (1 + 1e-9)]
    if not long:
        return ()
    detail = (
        f"row {long[0].first_row} alone is {long[0].area_m2:.1f} m², more than the {greatest_m2:.1f} m² that "
        f"can be laid while the adhesive works; {len(long)} such rows: lay them in part lengths or with "
        "more people"
    )
    return (Problem(code="row-larger-than-spread", detail=detail, severity="warning"),)
