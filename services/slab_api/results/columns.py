"""The whole grid of a result as an Arrow IPC stream, one row for each node, row by row from y0 up."""

from io import BytesIO
from typing import Any

import nanoarrow
import numpy as np
from nanoarrow.ipc import StreamWriter

from slab_app.actions.estimates import StageResult
from slab_app.codec import decode
from slab_app.plain import GRID_MM
from slab_core.job import MODELS
from slab_core.numerics.grid import Grid

GRIDDED = ("surface", "tolerance", "correction")
"""Stages whose results have a grid."""


def result_columns(result: StageResult, *, grid: Grid | None) -> bytes:
    """Columns x_m, y_m, and the grids of the result in millimetres; a rule's departure is numbered from 1."""
    model = decode(MODELS[result.stage], result.encoded)
    grid = getattr(model, "grid", grid)
    assert grid is not None
    xs, ys = np.meshgrid(grid.xs(), grid.ys())
    columns = {"x_m": xs, "y_m": ys, **_grids(model)}
    return _stream({name: np.ascontiguousarray(values).ravel() for name, values in columns.items()})


def _grids(model: Any) -> dict[str, Any]:
    if hasattr(model, "rules"):
        step = GRID_MM["departure"]
        return {f"departure_{i}_mm": rule.departure * step for i, rule in enumerate(model.rules, start=1)}
    names = [name for name in GRID_MM if hasattr(model, name)]
    return {f"{name}_mm": getattr(model, name) * GRID_MM[name] for name in names} | {
        "inside": model.inside.astype(np.uint8)
    }


def _stream(columns: dict[str, Any]) -> bytes:
    """Columns as one record batch."""
    kinds = {"f": nanoarrow.float64(), "u": nanoarrow.uint8()}
    fields = {name: kinds[values.dtype.kind] for name, values in columns.items()}
    arrays = [nanoarrow.c_array(values, fields[name]) for name, values in columns.items()]
    schema = nanoarrow.struct(fields)
    batch = nanoarrow.c_array_from_buffers(
        schema, length=len(next(iter(columns.values()))), buffers=[None], children=arrays
    )
    out = BytesIO()
    with StreamWriter.from_writable(out) as writer:
        writer.write_array(batch)
    return out.getvalue()
