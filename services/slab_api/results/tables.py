"""Results as tables for spreadsheets (CSV, RFC 4180): lines, purchases, trim and boards to cut, and pours.

Units stand in the heading, numbers are plain, and the file begins with a byte order mark, without which
spreadsheets take it for another encoding. Text that a spreadsheet would run as a formula gets an apostrophe
in front.
"""

import csv
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from io import StringIO
from typing import Any

from slab_api.results.board_rows import HEADING as BOARDS_HEADING
from slab_api.results.board_rows import board_rows
from slab_app.actions.estimates import StageResult
from slab_app.codec import decode
from slab_core.correction.model import Plan
from slab_core.job import MODELS
from slab_core.schedule.model import Schedule
from slab_core.stages import BY_NAME, Stage
from slab_core.takeoff.model import Takeoff

Cell = str | int | float | date
Row = tuple[Cell, ...]

_RUN_AS_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
_DIGITS = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table: what it is named, the stage it is of, its heading, and its rows."""

    name: str
    operation: str
    stage: Stage
    summary: str
    heading: tuple[str, ...]
    rows: Callable[[Any], Iterator[Row]]


def table_csv(table: Table, result: StageResult) -> bytes:
    """The whole table."""
    out = StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(table.heading)
    model = decode(MODELS[result.stage], result.encoded)
    writer.writerows([_written(cell) for cell in row] for row in table.rows(model))
    return out.getvalue().encode("utf-8-sig")


def _written(cell: Cell) -> str:
    if isinstance(cell, str):
        return f"'{cell}" if cell.startswith(_RUN_AS_FORMULA) else cell
    if isinstance(cell, float):
        return f"{round(cell, _DIGITS):.{_DIGITS}f}".rstrip("0").rstrip(".")
    return str(cell)


def _lines(takeoff: Takeoff) -> Iterator[Row]:
    for line in takeoff.lines:
        trace = line.trace
        inputs = "; ".join(f"{name}: {value}" for name, value in trace.inputs.items())
        yield (
            line.key.text(), line.kind, line.what, line.key.floor, line.key.phase, line.key.product,
            line.net, line.unit, 100.0 * line.waste_share, line.order, line.package or line.unit,
            line.from_stock, line.left_over, line.weight_kg, trace.stage, trace.formula, inputs,
        )  # fmt: skip


def _purchases(schedule: Schedule) -> Iterator[Row]:
    for one in schedule.purchases:
        yield (
            one.product, one.what, one.order, one.package, one.weight_kg, one.order_by, one.needed_on,
            one.first_use,
        )  # fmt: skip


def _cuts(takeoff: Takeoff) -> Iterator[Row]:
    for cut_list in takeoff.cut_lists:
        for stick_no, stick in enumerate(cut_list.sticks, start=1):
            for piece_no, piece in enumerate(stick.pieces, start=1):
                left = stick.left_m if piece_no == len(stick.pieces) else 0.0
                yield (
                    cut_list.item, stick.product, stick_no, piece_no, piece.where, 1000.0 * piece.length_m,
                    1000.0 * left, piece.left, piece.right,
                )  # fmt: skip


def _pours(plan: Plan) -> Iterator[Row]:
    for pour in plan.pours:
        yield (
            plan.floor_id, pour.id, pour.phase, pour.lift, pour.method, pour.area_m2,
            1000.0 * pour.mean_depth_m, 1000.0 * pour.greatest_depth_m, 1000.0 * pour.volume_m3, pour.bags,
            pour.sub_bays, len(pour.pins), pour.edge_m, pour.minutes, pour.flow_minutes,
            1000.0 * pour.below_m,
        )  # fmt: skip


TABLES = (
    Table(
        name="lines", operation="getTakeoffLinesTable", stage=BY_NAME["takeoff"],
        summary="What to buy and do, as a table", rows=_lines,
        heading=(
            "key", "kind", "what", "floor", "phase", "product", "net", "net unit", "waste (%)", "order",
            "order unit", "from stock (packages)", "left over (net unit)", "weight (kg)", "stage", "formula",
            "inputs",
        ),
    ),
    Table(
        name="cuts", operation="getTrimCutsTable", stage=BY_NAME["takeoff"],
        summary="Which piece of trim comes from which stick, as a table", rows=_cuts,
        heading=(
            "trim", "product", "stick", "piece", "where", "length (mm)", "left of the stick (mm)", "left end",
            "right end",
        ),
    ),
    Table(
        name="boards", operation="getBoardCutsTable", stage=BY_NAME["layout"],
        summary="Which piece of board comes from which, in laying order, as a table", rows=board_rows,
        heading=BOARDS_HEADING,
    ),
    Table(
        name="purchases", operation="getPurchasesTable", stage=BY_NAME["schedule"],
        summary="What to order, and by when, as a table", rows=_purchases,
        heading=(
            "product", "what", "order (packages)", "package", "weight (kg)", "order by", "needed on",
            "first used by",
        ),
    ),
    Table(
        name="pours", operation="getPoursTable", stage=BY_NAME["correction"],
        summary="Pour by pour, as a table", rows=_pours,
        heading=(
            "floor", "pour", "phase", "lift", "method", "area (m²)", "mean depth (mm)",
            "greatest depth (mm)", "volume (L)", "bags", "parts", "pins", "edge (m)", "mix and place (min)",
            "heals for (min)", "under the finished height (mm)",
        ),
    ),
)  # fmt: skip
