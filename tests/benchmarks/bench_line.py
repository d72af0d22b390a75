"""The whole line: a 30 m² room with 150 fresh readings, in memory and through the running service.

There is no general-purpose peer that does this job; the figures stand alone.
"""

import statistics
import time
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx

from slab_core.numerics.budget import Budget
from slab_core.pipeline.line import run
from slab_core.pipeline.warm import warm
from slab_local.place import keep_kernels, throwaway_home
from slab_local.stack import running_stack
from tests.benchmarks.measure import Figure, measures
from tests.e2e.client import Client, Json
from tests.sample_jobs import one_room_job

ROUNDS = 20
WIDTH_M, DEPTH_M, READINGS = 6.0, 5.0, 150
WARM_UP = 3


def _figure(name: str, seconds: Sequence[float]) -> Figure:
    return Figure(
        name=name,
        value=statistics.median(seconds),
        unit="s",
        peer=None,
        peer_value=None,
        n=len(seconds),
        memory_mb=None,
    )


def _print_stages(title: str, stages: Mapping[str, Sequence[float]]) -> None:
    spent = "  ".join(f"{name} {1000 * statistics.median(each):.0f}" for name, each in stages.items())
    print(f"  {title}, ms by stage (median): {spent}")


@measures("line.core_pipeline_s")
def bench_core_pipeline() -> list[Figure]:
    """All stages in memory on one core."""
    warm()
    seconds: list[float] = []
    stages: dict[str, list[float]] = defaultdict(list)
    for seed in range(ROUNDS + WARM_UP):
        job = one_room_job(width_m=WIDTH_M, depth_m=DEPTH_M, count=READINGS, seed=seed)
        started = time.perf_counter()
        line = run(job=job, budget=Budget(clock=time.perf_counter))
        if seed >= WARM_UP:
            seconds.append(time.perf_counter() - started)
            for (stage, _, _), spent in line.seconds.items():
                stages[stage].append(spent)
        if line.refused:
            raise RuntimeError(f"the benchmark's job was refused: {line.problems()}")
    _print_stages("core pipeline", stages)
    return [_figure("line.core_pipeline_s", seconds)]


@measures("line.post_to_quote_s", "line.reprice_s")
def bench_post_to_quote() -> list[Figure]:
    """From POST to the finished estimate, and again after nothing but the prices changed."""
    with _client() as client:
        fresh: list[float] = []
        repriced: list[float] = []
        stages: dict[str, list[float]] = defaultdict(list)
        for seed in range(ROUNDS + WARM_UP):
            job = _document(seed)
            seconds, estimate = _timed(client, job)
            again, _ = _timed(client, job | {"price_book": _new_prices(client, seed)})
            if seed >= WARM_UP:
                fresh.append(seconds)
                repriced.append(again)
                for step in estimate["steps"]:
                    stages[step["stage"]].append(step["ms"] / 1000)
        _print_stages("through the service", stages)
    return [_figure("line.post_to_quote_s", fresh), _figure("line.reprice_s", repriced)]


@contextmanager
def _client() -> Iterator[Client]:
    """A client of a service of its own, all on this machine."""
    keep_kernels(project=Path.cwd())
    with throwaway_home() as home, running_stack(home=home, report=lambda _: None, port=0) as stack:
        key = stack.new_key(organisation="Bench")
        headers = {"Authorization": f"Bearer {key}"}
        with httpx.Client(base_url=stack.base_url, headers=headers, timeout=60) as http:
            yield Client(http)


def _timed(client: Client, job: Json) -> tuple[float, Json]:
    started = time.perf_counter()
    estimate = client.estimate(job)
    seconds = time.perf_counter() - started
    if estimate["state"] != "completed":
        raise RuntimeError(f"the benchmark's job was not completed: {estimate['problems']}")
    return seconds, estimate


def _new_prices(client: Client, seed: int) -> str:
    answer = client.post("/v1/price-books", {"overhead_share": f"0.1{seed:02d}"})
    answer.raise_for_status()
    return str(answer.json()["id"])


def _document(seed: int) -> dict[str, Any]:
    job = one_room_job(width_m=WIDTH_M, depth_m=DEPTH_M, count=READINGS, seed=1000 + seed)
    columns = job.surveys[0].readings[0]
    readings = {
        "kind": "elevation",
        "x": columns.x_m.tolist(),
        "y": columns.y_m.tolist(),
        "value": columns.value_m.tolist(),
        "sd": 0.0007,
        "position_sd": 0.02,
    }
    return {
        "name": f"Invented studio {seed}",
        "units": {"length": "m", "height": "m"},
        "rooms": [{"id": "studio", "name": "Studio", "outline": [list(p) for p in job.rooms[0].outline]}],
        "surveys": [{"id": "visit", "readings": [readings]}],
        "tolerance": {"rules": [{"length": "10 ft", "gap": "3/16 in"}]},
        "options": {"seed": seed},  # another one each time, so that the layout is fresh too
    }
