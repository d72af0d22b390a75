"""Steps that nobody declared: found where they are, and not where there are none. Only suggested."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.numerics.budget import Budget
from slab_core.rooms.model import Floor, Joint
from slab_core.surface.findings import suspected_problems
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import Surface, SurfaceOptions, SuspectedStep
from slab_core.surveys.model import Observations
from tests.slabs import Slab, floor_of, grid_places, make_slab, random_places, read_slab, stepped

AT_M = 2.3


def _fit(floor: Floor, seen: Observations) -> Surface:
    options = SurfaceOptions(grid_step_m=0.25)
    return fit_surface(floor=floor, observations=seen, options=options, budget=Budget())


def _read(slab: Slab, *, count: int, seed: int) -> Observations:
    rng = np.random.default_rng([seed, 1])
    return read_slab(slab=slab, places=grid_places(floor=slab.floor, count=count, rng=rng), rng=rng)


def _smooth(seed: int, *, hump_m: float = 0.0) -> Slab:
    return make_slab(rng=np.random.default_rng(seed), hump_m=hump_m)


@pytest.mark.parametrize("step_m", [0.006, -0.006])
@pytest.mark.parametrize("seed", range(3))
def test_a_step_across_the_room_is_told_with_its_place_height_and_higher_side(
    seed: int, step_m: float
) -> None:
    slab = stepped(_smooth(seed), at_m=AT_M, step_m=step_m)
    surface = _fit(slab.floor, _read(slab, count=300, seed=seed))
    (found,) = surface.suspected_steps
    spacing = np.sqrt(35.0 / 300)
    assert abs(found.start[0] - AT_M) < spacing
    assert abs(found.end[0] - AT_M) < spacing
    assert sorted([found.start[1], found.end[1]]) == pytest.approx([0.0, 7.0], abs=1e-9)
    right_less_left = -found.height_m if found.end[1] > found.start[1] else found.height_m
    assert abs(right_less_left - step_m) < max(4.0 * found.sd_m, 0.002)
    assert 0.0 < found.sd_m < 0.002
    assert [p.code for p in surface.problems].count("step-suspected") == 1


@pytest.mark.parametrize(("count", "told"), [(120, False), (5000, True)])
def test_a_step_below_an_eighth_of_an_inch_is_told_only_where_many_readings_know_it(
    count: int, told: bool
) -> None:
    rng = np.random.default_rng(11)
    slab = stepped(_smooth(0), at_m=AT_M, step_m=0.0025)
    places = random_places(floor=slab.floor, count=count, rng=rng)
    found = _fit(slab.floor, read_slab(slab=slab, places=places, rng=rng)).suspected_steps
    assert len(found) == told
    for step in found:
        assert abs(abs(step.height_m) - 0.0025) < 3.0 * step.sd_m
        assert max(abs(step.start[0] - AT_M), abs(step.end[0] - AT_M)) < np.sqrt(35.0 / count)


def test_a_step_at_an_angle_to_the_walls_is_told() -> None:
    smooth = _smooth(4)
    normal, offset = np.array([np.sin(0.5), np.cos(0.5)]), 4.2

    def height(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return np.asarray(smooth.height(x, y) + 0.008 * (x * normal[0] + y * normal[1] > offset))

    slab = Slab(floor=smooth.floor, height=height)
    (found,) = _fit(slab.floor, _read(slab, count=300, seed=4)).suspected_steps
    assert [float(np.dot(tip, normal)) for tip in (found.start, found.end)] == pytest.approx(
        [offset, offset], abs=0.35
    )


def test_the_surface_itself_stays_as_smooth_as_without_the_suggestion() -> None:
    slab = stepped(_smooth(0), at_m=AT_M, step_m=0.006)
    surface = _fit(slab.floor, _read(slab, count=300, seed=0))
    assert surface.suspected_steps
    assert surface.spline.joints == ()
    assert surface.steps == ()


@pytest.mark.parametrize("hump_m", [0.0, 0.019])
@pytest.mark.parametrize("count", [40, 150, 500])
def test_nothing_is_suggested_on_a_smooth_slab_nor_on_a_hump(count: int, hump_m: float) -> None:
    for seed in range(4):
        slab = _smooth(seed, hump_m=hump_m)
        assert _fit(slab.floor, _read(slab, count=count, seed=seed)).suspected_steps == ()


def test_a_step_at_a_declared_joint_is_not_suggested_again() -> None:
    for seed in range(3):
        slab = stepped(_smooth(seed), at_m=AT_M, step_m=0.006)
        joint = Joint(id="j", kind="construction", start=(AT_M, 0.0), end=(AT_M, 7.0))
        floor = replace(slab.floor, rooms=(replace(slab.floor.rooms[0], joints=(joint,)),))
        surface = _fit(floor, _read(slab, count=300, seed=seed))
        assert surface.suspected_steps == ()
        assert surface.steps[0].height_m == pytest.approx(-0.006, abs=0.0015)


def test_a_step_in_one_leg_of_a_floor_with_a_corner_ends_at_that_legs_walls() -> None:
    shell = ((0.0, 0.0), (8.0, 0.0), (8.0, 4.0), (4.0, 4.0), (4.0, 8.0), (0.0, 8.0))
    floor = floor_of(shell=shell)
    smooth = _smooth(2)

    def height(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return np.asarray(smooth.height(x, y) + 0.008 * (x > 6.0))

    rng = np.random.default_rng(5)
    x, y = random_places(floor=floor, count=600, rng=rng)
    inside = (x < 4.0) | (y < 4.0)
    seen = read_slab(slab=Slab(floor=floor, height=height), places=(x[inside], y[inside]), rng=rng)
    (found,) = _fit(floor, seen).suspected_steps
    assert sorted([found.start[1], found.end[1]]) == pytest.approx([0.0, 4.0], abs=1e-9)
    assert abs(found.start[0] - 6.0) < 0.3
    assert abs(found.end[0] - 6.0) < 0.3


def test_the_finding_says_where_how_high_which_side_and_what_to_do() -> None:
    floor = _smooth(0).floor
    step = SuspectedStep(start=(2.0, 0.0), end=(2.0, 7.0), height_m=-0.005, sd_m=0.0005)
    (said,) = suspected_problems(floor=floor, suspected=(step,))
    assert said.code == "step-suspected"
    for part in ("(2.00 m) from wall 4-1", "at wall 3-4", "the right side is higher", "0.20 in (5.0 mm)"):
        assert part in said.detail
    for part in ("± 0.04 in (1.0 mm)", "4-6 in (100-150 mm)", "give the line with the room's joints"):
        assert part in said.detail
    higher_left = replace(step, height_m=0.005)
    assert "the left side is higher" in suspected_problems(floor=floor, suspected=(higher_left,))[0].detail
