"""Stored results as JSON, with grids thinned until the answer is small enough for a browser or a phone."""

from collections.abc import Mapping
from math import ceil, sqrt
from typing import Any

import msgspec

from slab_api.answers import to_json
from slab_api.intake.places import client_pointer
from slab_app.actions.estimates import StageResult
from slab_app.codec import decode
from slab_app.plain import to_plain
from slab_core.job import MODELS
from slab_core.numerics.grid import Grid

MOST_BYTES = 1024 * 1024
"""The most that an answer with a grid has; the whole grid is given as columns."""

_BYTES_PER_NODE = 7


def result_json(result: StageResult, *, grid: Grid | None) -> bytes:
    """The result's JSON. `grid` is that of its rows of nodes, where the model does not hold one itself."""
    model = decode(MODELS[result.stage], result.encoded)
    grid = getattr(model, "grid", grid)
    every = _first_guess(grid, size=len(result.encoded.json)) if grid else 1
    while True:
        body = to_json(_document(result, model, grid=grid, every=every))
        if grid is None or len(body) <= MOST_BYTES or every >= max(grid.nx, grid.ny):
            return body
        every += 1


def stored_grid(surface: StageResult) -> Grid:
    """The grid of a floor's surface, without unpacking the rest of it."""
    return msgspec.convert(msgspec.json.decode(surface.encoded.json)["grid"], Grid)


def problem_view(problem: Mapping[str, Any]) -> dict[str, Any]:
    """A problem with its place in the client's own document."""
    return {**problem, "pointer": client_pointer(problem["pointer"])}


def _first_guess(grid: Grid, *, size: int) -> int:
    room = max(MOST_BYTES - size, MOST_BYTES // 4)
    return max(1, ceil(sqrt(4 * grid.nx * grid.ny * _BYTES_PER_NODE / room)))


def _document(result: StageResult, model: Any, *, grid: Grid | None, every: int) -> dict[str, Any]:
    plain = to_plain(model, every=every)
    plain["problems"] = [problem_view(problem) for problem in plain["problems"]]
    head: dict[str, Any] = {
        "stage": result.stage,
        "subject": result.subject,
        "alternate": result.alternate or None,
        "digest": result.digest.hex(),
    }
    if grid is not None:
        head["nodes"] = _thinned(grid, every=every)
    return {**head, "result": plain}


def _thinned(grid: Grid, *, every: int) -> dict[str, Any]:
    """Where the given nodes lie: each `every`-th of the whole grid."""
    return {
        "x0_m": grid.x0_m,
        "y0_m": grid.y0_m,
        "step_m": grid.step_m * every,
        "nx": ceil(grid.nx / every),
        "ny": ceil(grid.ny / every),
        "every": every,
    }
