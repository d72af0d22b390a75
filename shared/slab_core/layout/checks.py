"""What a crew measures: the control line, where rows meet again behind an obstacle, tapered rips."""

from collections.abc import Iterator, Mapping
from itertools import pairwise

import numpy as np
import shapely

from slab_core.layout.model import ClosureCheck, RowRun, TaperedRip
from slab_core.layout.rows import Stretch
from slab_core.numerics.grid import Floats

_STAIR_NEAR_M = 0.05
_SAME_M = 1e-6
_FULL_SHARE = 0.98
_TAPER_M = 0.0005

Gap = tuple[float, float]


def control_line_of(*, runs: tuple[RowRun, ...], rows: int) -> int:
    """The line, between the first and the last, that runs of the two rows beside it touch longest."""
    lengths = np.zeros(rows + 2)
    for run in runs:
        lengths[run.row] += run.end_m - run.start_m
    beside = lengths[1:-2] + lengths[2:-1]
    return int(np.argmax(beside)) + 1 if len(beside) else 0


def closure_checks(*, runs: tuple[RowRun, ...], lines_m: Floats) -> tuple[ClosureCheck, ...]:
    """One for every gap between runs that a run before and a run behind it span."""
    by_row: dict[int, list[RowRun]] = {}
    for run in runs:
        by_row.setdefault(run.row, []).append(run)
    return tuple(_closures(by_row, lines_m=lines_m))


def _closures(by_row: Mapping[int, list[RowRun]], *, lines_m: Floats) -> Iterator[ClosureCheck]:
    gaps = {row: _gaps(runs) for row, runs in by_row.items()}
    for row in sorted(by_row):
        for gap in gaps[row]:
            if any(_meet(gap, other) for other in gaps.get(row - 1, ())) or not _spanned(
                gap, by_row.get(row - 1, ())
            ):
                continue  # it began in an earlier row, or nothing joins its sides before it
            last, reach = row, gap
            while following := [other for other in gaps.get(last + 1, ()) if _meet(reach, other)]:
                last += 1
                reach = (min(low for low, _ in following), max(high for _, high in following))
            if _spanned(reach, by_row.get(last + 1, ())):
                yield ClosureCheck(
                    first_row=row,
                    last_row=last,
                    left_m=reach[0],
                    right_m=reach[1],
                    across_m=float(lines_m[last] - lines_m[row - 1]),
                )


def _gaps(runs: list[RowRun]) -> list[Gap]:
    return [(a.end_m, b.start_m) for a, b in pairwise(runs) if b.start_m > a.end_m + _SAME_M]


def _meet(a: Gap, b: Gap) -> bool:
    return a[0] < b[1] and b[0] < a[1]


def _spanned(gap: Gap, runs: list[RowRun] | tuple[()]) -> bool:
    return any(run.start_m < gap[0] - _SAME_M and run.end_m > gap[1] + _SAME_M for run in runs)


def tapered_rips(
    *, stretches: tuple[Stretch, ...], runs: tuple[RowRun, ...], width_m: float
) -> tuple[TaperedRip, ...]:
    """Runs whose one long side follows a wall out of square: four corners, two of them on a line of rows."""
    return tuple(
        TaperedRip(row=run.row, run=run.run, start_width_m=widths[0], end_width_m=widths[1])
        for stretch, run in zip(stretches, runs, strict=True)
        if (widths := _taper(stretch, width_m=width_m)) is not None
    )


def _taper(stretch: Stretch, *, width_m: float) -> tuple[float, float] | None:
    if stretch.shape is None:
        return None
    # Ends that meet a wall at a slant are left out: widths are taken a board's width inside.
    inside = min(width_m, stretch.length_m() / 4)
    start, end = (_width_at(stretch, x) for x in (stretch.start_m + inside, stretch.end_m - inside))
    middle = _width_at(stretch, (stretch.start_m + stretch.end_m) / 2)
    straight = abs(middle - (start + end) / 2) < _TAPER_M
    if abs(start - end) < _TAPER_M or not straight or min(start, end) > _FULL_SHARE * width_m:
        return None
    return start, end


def _width_at(stretch: Stretch, along_m: float) -> float:
    across = shapely.LineString(((along_m, stretch.near_m - 1.0), (along_m, stretch.far_m + 1.0)))
    return float(stretch.shape.intersection(across).length) if stretch.shape else 0.0


def stair_steps(*, joints: Mapping[int, list[float]], stagger_m: float) -> int:
    """Joints that continue two others of the rows before in steps of the same length, each shorter than twice
    the stagger: the third tread of a stair."""
    return sum(
        any(
            stagger_m - _SAME_M <= abs(u - a) < 2.0 * stagger_m and abs(2.0 * a - u - b) < _STAIR_NEAR_M
            for a in joints.get(row - 1, ())
            for b in joints.get(row - 2, ())
        )
        for row, places in joints.items()
        for u in places
    )
