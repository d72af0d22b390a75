"""The scans stage: one scan's file read once and reduced over all floors of the job."""

from dataclasses import replace

from slab_core.errors import InputRefused, Problem
from slab_core.numerics.budget import Budget
from slab_core.scans.blocks import joined_cells
from slab_core.scans.model import (
    CellHeights,
    FloorShape,
    ReadScan,
    ReducedScan,
    Reduction,
    Scan,
    ScannedFloor,
    ScanOptions,
)
from slab_core.scans.place import Stand

MOST_BLOCKS = 20_000
"""Of one floor: the surface fits tens of thousands of heights in seconds."""

_ELSEWHERE = "scan-outside-floor"


def reduce_over(
    *,
    scan: Scan,
    stand: Stand,
    floors: tuple[FloorShape, ...],
    options: ScanOptions,
    read: ReadScan,
    pointer: str,
    budget: Budget,
) -> ReducedScan:
    """What the scan shows of each floor. `pointer` leads to it in the posted job.

    A floor that it does not lie on is left out; one that it touches without showing it gets a warning.

    Raises
    ------
    InputRefused
        when the file cannot be used, or shows none of the floors.
    Stopped
        when the budget says so.
    """
    try:
        found = read(scan=scan, placement=stand.placement, floors=floors, options=options, budget=budget)
        _refuse_without_floor(found)
    except InputRefused as refused:
        raise InputRefused(tuple(replace(problem, pointer=pointer) for problem in refused.problems)) from None
    shown = [
        (floor.id, cells)
        for floor, cells in zip(floors, found, strict=True)
        if isinstance(cells, CellHeights)
    ]
    registration = stand.registration
    return ReducedScan(
        scan=scan.id,
        placement=stand.placement,
        target_residual_m=dict(registration.residual_m) if registration else {},
        target_rms_m=registration.rms_m if registration else None,
        points_read=shown[0][1].points_read,
        floors=tuple(_scanned(floor, cells) for floor, cells in shown),
        problems=_told(found, pointer=pointer),
    )


def _refuse_without_floor(found: tuple[Reduction, ...]) -> None:
    """Of several floors that it does not show, the reason of one that it lies on says most."""
    if any(isinstance(each, CellHeights) for each in found):
        return
    reasons = [each for each in found if not isinstance(each, CellHeights)]
    raise InputRefused(min(reasons, key=lambda problems: problems[0].code == _ELSEWHERE))


def _scanned(floor_id: str, cells: CellHeights) -> ScannedFloor:
    return ScannedFloor(
        floor_id=floor_id,
        blocks=joined_cells(cells=cells, most=MOST_BLOCKS),
        cell_m=cells.cell_m,
        cells_covered=cells.cells_covered,
        cells_cleared=cells.cells_cleared,
        cells_empty=cells.cells_empty,
    )


def _told(found: tuple[Reduction, ...], *, pointer: str) -> tuple[Problem, ...]:
    problems: list[Problem] = []
    for each in found:
        if isinstance(each, CellHeights):
            problems += each.problems
        else:
            problems += [replace(p, severity="warning") for p in each if p.code != _ELSEWHERE]
    return tuple(replace(problem, pointer=pointer) for problem in problems)
