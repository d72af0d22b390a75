"""Results as answers."""

import json
from typing import Any

import jsonschema
import numpy as np
import pytest

from slab_api.results.describe import describe
from slab_api.results.views import MOST_BYTES, result_json, stored_grid
from slab_app.actions.estimates import StageResult
from slab_app.codec import encode
from slab_core.job import MODELS
from slab_core.numerics.grid import Grid
from slab_core.stages import STAGES
from slab_core.surface.model import Spline, Surface

_NOTHING = np.zeros(0)


def _surface(nx: int, ny: int) -> StageResult:
    spline = Spline(
        x0_m=0.0,
        y0_m=0.0,
        knot_step_m=0.5,
        coefficient_m=np.zeros((4, 4)),
        smoothing=1.0,
        obs_x_m=_NOTHING,
        obs_y_m=_NOTHING,
        obs_weight=_NOTHING,
        obs_value_m=_NOTHING,
        obs_sd_m=_NOTHING,
    )
    heights = np.random.default_rng(3).integers(-2000, 2000, (ny, nx)).astype(np.int32)
    surface = Surface(
        floor_id="hall",
        grid=Grid(x0_m=-1.0, y0_m=2.0, step_m=0.05, nx=nx, ny=ny),
        height=heights,
        error=np.abs(heights),
        inside=heights > -1500,
        spline=spline,
        noise_sd_m=0.001,
        effective_parameters=9.0,
        observations_used=100,
    )
    return StageResult(
        stage="surface", subject="hall", alternate="", digest=bytes(32), encoded=encode(surface)
    )


@pytest.mark.parametrize(("nx", "ny"), [(3, 2), (100, 140), (600, 1000), (3000, 7)])
def test_grids_are_thinned_evenly_until_the_answer_is_small_enough(nx: int, ny: int) -> None:
    body = result_json(_surface(nx, ny), grid=None)
    assert len(body) <= MOST_BYTES
    answer = json.loads(body)
    nodes = answer["nodes"]
    every = nodes["every"]
    assert (nodes["nx"], nodes["ny"]) == (-(-nx // every), -(-ny // every))
    assert nodes["step_m"] == pytest.approx(0.05 * every)
    rows = answer["result"]["height_mm"]
    assert (len(rows), len(rows[0])) == (nodes["ny"], nodes["nx"])
    assert every == 1 or len(body) > MOST_BYTES / 8


def test_a_thinned_node_is_the_whole_grids_own() -> None:
    stored = _surface(600, 1000)
    answer = json.loads(result_json(stored, grid=None))
    every = answer["nodes"]["every"]
    whole = np.random.default_rng(3).integers(-2000, 2000, (1000, 600))
    np.testing.assert_allclose(answer["result"]["height_mm"], whole[::every, ::every] * 0.01, atol=1e-9)


def test_the_grid_is_read_without_the_rest() -> None:
    assert stored_grid(_surface(7, 9)) == Grid(x0_m=-1.0, y0_m=2.0, step_m=0.05, nx=7, ny=9)


def test_every_stage_has_a_model_and_every_model_a_schema_that_is_one() -> None:
    assert list(MODELS) == [stage.name for stage in STAGES]
    schemas: dict[str, Any] = {}
    for model in MODELS.values():
        describe(model, into=schemas)
    for schema in schemas.values():
        jsonschema.Draft202012Validator.check_schema(schema)
    assert schemas["PlanResult"]["properties"]["grind_mm"]["type"] == "array"
    assert "spline" not in schemas["SurfaceResult"]["properties"]
    assert schemas["QuoteResult"]["properties"]["total"] == {"$ref": "#/components/schemas/Money"}
    assert schemas["PlacedResult"]["properties"]["start_at"]["format"] == "date-time"
