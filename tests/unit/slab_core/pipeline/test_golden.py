"""Results that move must move their stage's version with them.

`golden.json` holds, for each stage, its version and a fingerprint of what it made of one invented
job: per field the sum of all numbers in it. To take over new figures after reading what moved and
raising the version in `stages.py`:

    python -m tests.unit.slab_core.pipeline.test_golden
"""

import json
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
import pytest

from slab_core.pipeline.line import run
from slab_core.stages import STAGES
from tests.sample_jobs import one_room_job

GOLDEN = Path(__file__).with_name("golden.json")
RELATIVE = 1e-6
"""Numerical libraries differ in the last bits, and a height may round to its neighbour step."""


def _total(value: Any) -> float:
    if isinstance(value, bool | int | float):
        return float(value)
    if isinstance(value, dict):
        return sum(_total(item) for item in value.values())
    if isinstance(value, list | tuple):
        return sum(_total(item) for item in value)
    if isinstance(value, str):
        try:
            return float(value)
        except ValueError:
            return float(len(value))
    return 0.0


def _fingerprint(model: object) -> dict[str, float]:
    plain = msgspec.to_builtins(model, enc_hook=lambda array: float(np.sum(array, dtype=np.float64)))
    return {field: round(_total(value), 9) for field, value in plain.items()}


def _current() -> dict[str, Any]:
    line = run(job=one_room_job())
    versions = {stage.name: stage.version for stage in STAGES}
    return {
        stage: {"version": versions[stage], "fields": _fingerprint(model)}
        for (stage, _, _), model in line.models.items()
    }


def test_results_do_not_move_unless_the_stage_version_does() -> None:
    golden, current = json.loads(GOLDEN.read_text()), _current()
    assert set(golden) == set(current)
    for stage, now in current.items():
        then = golden[stage]
        assert then["version"] == now["version"], f"{stage}: take over the new figures (see above)"
        assert now["fields"] == pytest.approx(then["fields"], rel=RELATIVE, abs=1e-9), (
            f"{stage} gives other results than version {then['version']} did: raise its version"
        )


if __name__ == "__main__":
    GOLDEN.write_text(json.dumps(_current(), indent=1, sort_keys=True) + "\n")
