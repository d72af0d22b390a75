"""What the steps that measure the slab make of a job."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.errors import InputRefused
from slab_core.job import Job
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import to_metres
from slab_core.pipeline.line import Line
from slab_core.pipeline.orders import order
from slab_core.rooms.build import build_rooms
from slab_core.stages import plan_steps
from slab_core.surface.model import Surface
from slab_core.surveys.model import Benchmark, Readings, Setup, Sight, Survey
from tests.sample_jobs import grid_readings, hump_and_hollow, one_room_job

FIRST = one_room_job(count=100)


def _second(off_m: float) -> Survey:
    """Another visit to the same room, its heights so much higher."""
    survey = grid_readings(
        width_m=6.0, depth_m=5.0, count=60, truth=lambda x, y: hump_and_hollow(x, y) + off_m, seed=2
    )
    return replace(survey, id="visit-2")


def _by_rod(survey: Survey) -> Survey:
    """The same, read from a level 1.5 m above a benchmark of height 0."""
    (readings,) = survey.readings
    rods: Readings = replace(
        readings,
        kind="rod",
        value_m=1.5 - readings.value_m,
        setup=np.zeros(len(readings.x_m), dtype=np.int32),
    )
    sight = Sight(setup="level", target="sill", rod_m=1.5)
    return replace(survey, setups=(Setup(id="level"),), sights=(sight,), readings=(rods,))


def _surface(job: Job) -> Surface:
    line = Line()
    (floor,) = build_rooms(rooms=job.rooms).floors
    for step in plan_steps(floor_ids=(floor.id,)):
        if step.stage in ("rooms", "surveys", "surface"):
            todo = order(job=job, step=step, earlier=line, read=None)
            key = (step.stage, step.subject, "")
            line.models[key], line.digests[key] = todo.compute(Budget()), b""
    return line.model(Surface, "surface", floor.id)


def _two(off_m: float) -> Job:
    return replace(FIRST, surveys=(*FIRST.surveys, _second(off_m)))


def _mean_off_m(surface: Surface) -> float:
    x, y = np.meshgrid(surface.grid.xs(), surface.grid.ys())
    return float((to_metres(surface.height) - hump_and_hollow(x, y))[surface.inside].mean())


@pytest.mark.parametrize("off_m", [0.002, 0.005, 0.025])
def test_two_first_surveys_of_other_datums_are_not_averaged_but_refused(off_m: float) -> None:
    with pytest.raises(InputRefused) as refused:
        _surface(_two(off_m))
    (problem,) = refused.value.problems
    assert (problem.code, problem.pointer, problem.severity) == ("surveys-apart", "/surveys/1", "refusal")
    assert "“visit-2”" in problem.detail
    assert "“visit-1”" in problem.detail


def test_a_laser_that_was_set_on_another_mark_than_the_benchmark_is_refused() -> None:
    job = replace(
        FIRST,
        benchmarks=(Benchmark(id="sill", elevation_m=0.0),),
        surveys=(_by_rod(FIRST.surveys[0]), _by_rod(_second(0.025))),
    )
    with pytest.raises(InputRefused, match=r"25\.\d mm\) higher than survey “visit-1”"):
        _surface(job)


def test_a_hair_between_two_first_surveys_is_taken_off_and_told() -> None:
    alone, both = _surface(FIRST), _surface(_two(0.0012))
    assert [p.code for p in both.problems if p.code.startswith("surveys-")] == ["surveys-apart"]
    assert _mean_off_m(both) == pytest.approx(_mean_off_m(alone), abs=0.00015)


def test_first_surveys_of_one_datum_count_together_without_a_word() -> None:
    assert not [p for p in _surface(_two(0.0)).problems if p.code.startswith("surveys-")]
