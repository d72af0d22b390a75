"""The readings that a plan asks for next."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from slab_core.correction.model import NextReadings, Plan
from slab_core.correction.next_readings import APART_M, KNOWN_BAGS, MOST_READINGS, OFF_WALLS_M, next_readings
from slab_core.correction.task import Task
from slab_core.correction.work import classify, work_of_depths
from slab_core.materials import starter
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats
from slab_core.rooms.distances import said_place
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import Surface, SurfaceOptions
from slab_core.surface.sample import draw
from tests.invented_floors import Work, rectangle, trough, work
from tests.slabs import Slab, grid_places, make_slab, read_slab

SPARE_BAG = starter.planning_costs().compound_per_bag


def _surveyed(*, count: int, seed: int = 1) -> tuple[Slab, Surface]:
    rng = np.random.default_rng(seed)
    slab = make_slab(rng=rng, width_m=4.0, depth_m=5.0, hump_m=0.015)
    seen = read_slab(slab=slab, places=grid_places(floor=slab.floor, count=count, rng=rng), rng=rng)
    options = SurfaceOptions(grid_step_m=0.1)
    return slab, fit_surface(floor=slab.floor, observations=seen, options=options, budget=Budget())


def _plan(*, count: int, seed: int = 1) -> tuple[Slab, Plan]:
    slab, surface = _surveyed(count=count, seed=seed)
    return slab, Work(floor=slab.floor, surface=surface, changes={}).plan()


def _asked(plan: Plan) -> NextReadings:
    assert plan.next_readings is not None
    return plan.next_readings


def _task(slab: Slab, surface: Surface) -> Task:
    return Work(floor=slab.floor, surface=surface, changes={}).task()


def test_a_plan_on_few_readings_says_where_to_read_next_in_words_for_the_tape() -> None:
    slab, plan = _plan(count=20)
    asked = _asked(plan)
    assert 1 <= len(asked.readings) <= MOST_READINGS
    for reading in asked.readings:
        assert reading.place == said_place(floor=slab.floor, at=reading.at)
        assert len(reading.walls) == 2
        x, y = reading.at
        assert min(x, 4.0 - x, y, 5.0 - y) >= OFF_WALLS_M - 1e-9
    places = [reading.at for reading in asked.readings]
    apart = [np.hypot(*np.subtract(a, b)) for i, a in enumerate(places) for b in places[:i]]
    assert min(apart) >= APART_M - 1e-9


def test_every_reading_leaves_less_unknown() -> None:
    asked = _asked(_plan(count=20)[1])
    costs = [asked.cost_sd, *(reading.cost_sd for reading in asked.readings)]
    bags = [asked.bags_sd, *(reading.bags_sd for reading in asked.readings)]
    assert all(after < before for before, after in pairwise(costs))
    assert all(after <= before for before, after in pairwise(bags))
    assert all(reading.saves >= 0.0 for reading in asked.readings)
    assert sum(reading.saves for reading in asked.readings) > 0.0


def test_more_readings_leave_less_to_ask_for() -> None:
    few, many = _asked(_plan(count=20)[1]), _asked(_plan(count=500)[1])
    assert many.bags_sd < few.bags_sd
    assert many.cost_sd < few.cost_sd
    known = KNOWN_BAGS * _task(*_surveyed(count=20)).case.costs.per_bag
    assert many.cost_sd <= known
    assert many.readings == ()


def test_a_floor_known_exactly_asks_for_nothing() -> None:
    job = work(floor=rectangle(width_m=4.0, length_m=5.0), height_m=trough(width_m=4.0, depth_m=0.015))
    assert job.plan().next_readings == NextReadings(bags_sd=0.0, cost_sd=0.0, readings=())


def test_a_floor_that_needs_nothing_asks_for_nothing() -> None:
    job = work(floor=rectangle(width_m=4.0, length_m=5.0), height_m=lambda x, y: 0.001 * x + 0.0 * y)
    assert job.plan().next_readings is None


def _drawn_work(task: Task, plane_mm: Floats, drawn: Floats) -> Floats:
    """Running cost and bags of every draw under the one plane, shape (draws, 2)."""
    found = []
    for heights in drawn:
        depth = plane_mm - 1e3 * heights[task.surface.inside]
        state = classify(case=task.case, depth_mm=depth, skin_mm=0.0)
        done = work_of_depths(case=task.case, depth_mm=depth, state=state)
        found.append((done.running_cost, done.quantities.unrounded_bags))
    return np.array(found)


@pytest.mark.parametrize("seed", [1, 2])
def test_what_is_unknown_and_what_the_readings_tell_of_it_is_what_draws_of_the_floor_say(seed: int) -> None:
    """The share that a regression on the readings explains is the least that they tell."""
    slab, surface = _surveyed(count=24, seed=seed)
    task = _task(slab, surface)
    abc_mm = np.array([float(np.quantile(task.case.nodes.z_mm, 0.8)), 0.0, 0.0])
    asked = next_readings(task=task, abc_mm=abc_mm, spare_bag=SPARE_BAG)
    rng = np.random.default_rng(seed)
    drawn = draw(spline=surface.spline, grid=surface.grid, count=4000, rng=rng)
    done = _drawn_work(task, np.full(len(task.case.nodes.x), abc_mm[0]), drawn)
    assert (asked.cost_sd, asked.bags_sd) == pytest.approx(done.std(axis=0), rel=0.05)
    grid, last = surface.grid, asked.readings[-1]
    rows = [round((reading.at[1] - grid.y0_m) / grid.step_m) for reading in asked.readings]
    columns = [round((reading.at[0] - grid.x0_m) / grid.step_m) for reading in asked.readings]
    read = drawn[:, rows, columns] + surface.noise_sd_m * rng.standard_normal((len(drawn), len(rows)))
    known = np.column_stack([np.ones(len(drawn)), read])
    left = done - known @ np.linalg.lstsq(known, done, rcond=None)[0]
    explained = 1.0 - left.var(axis=0) / done.var(axis=0)
    for share, before, after in (
        (explained[0], asked.cost_sd, last.cost_sd),
        (explained[1], asked.bags_sd, last.bags_sd),
    ):
        # A share R² found by regression is good to 2 R √((1 - R²) / n); three of them, and a twentieth.
        sampled = 6.0 * np.sqrt(share * (1.0 - share) / len(drawn))
        told = 1.0 - after**2 / before**2
        assert 0.95 * share - sampled <= told <= 1.2 * share + sampled


def test_errors_twice_as_large_are_asked_about_sooner() -> None:
    slab, surface = _surveyed(count=60)
    task = _task(slab, surface)
    abc_mm = np.array([float(np.quantile(task.case.nodes.z_mm, 0.8)), 0.0, 0.0])
    spline = surface.spline
    rougher = replace(spline, smoothing=spline.smoothing / 4.0, obs_sd_m=2.0 * spline.obs_sd_m)
    rough = replace(surface, error=2 * surface.error, spline=rougher, noise_sd_m=2.0 * surface.noise_sd_m)
    plain = next_readings(task=task, abc_mm=abc_mm, spare_bag=SPARE_BAG)
    doubtful = next_readings(task=_task(slab, rough), abc_mm=abc_mm, spare_bag=SPARE_BAG)
    assert doubtful.cost_sd > plain.cost_sd
    assert len(doubtful.readings) >= len(plain.readings)
