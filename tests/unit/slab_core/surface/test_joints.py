"""The surface at declared joints: the step is recovered, nothing else is disturbed."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import ERROR_STEP_M, Floats, Grid, to_metres
from slab_core.rooms.model import Floor, Joint, Point
from slab_core.surface.fit import fit_surface
from slab_core.surface.joints import COLUMNS, columns, spline_joints
from slab_core.surface.model import Surface, SurfaceOptions
from slab_core.surface.sample import draw, evaluate
from slab_core.surveys.model import Observations
from tests.slabs import (
    Slab,
    floor_of,
    gaps_of,
    grid_places,
    joined,
    make_slab,
    places_beside_joint,
    read_slab,
    rectangle,
    stepped,
)

STEP_M = 0.005


def _with_joint(floor: Floor, *ends: tuple[Point, Point]) -> Floor:
    joints = tuple(
        Joint(id=f"j{i}", kind="construction", start=start, end=end) for i, (start, end) in enumerate(ends)
    )
    return replace(floor, rooms=(replace(floor.rooms[0], joints=joints),))


def _fit(floor: Floor, seen: Observations, step: float = 0.05) -> Surface:
    options = SurfaceOptions(grid_step_m=step)
    return fit_surface(floor=floor, observations=seen, options=options, budget=Budget())


def _case(seed: int) -> tuple[Slab, Observations, Floor]:
    """A 3 × 4 m room with a step across its middle and 20 readings on each side."""
    rng = np.random.default_rng(seed)
    slab = stepped(make_slab(rng=rng, width_m=3.0, depth_m=4.0, hump_m=0.0), at_m=1.5, step_m=STEP_M)
    seen = read_slab(slab=slab, places=places_beside_joint(rng=rng), rng=rng)
    return slab, seen, _with_joint(slab.floor, ((1.5, 0.0), (1.5, 4.0)))


def _beside(slab: Slab, surface: Surface) -> tuple[Floats, Floats]:
    """Errors and standard errors within 0.3 m of x = 1.5 m, metres."""
    xs, ys = np.meshgrid(surface.grid.xs(), surface.grid.ys())
    near = surface.inside & (np.abs(xs - 1.5) < 0.3)
    away = to_metres(surface.height) - slab.height(xs, ys)
    return away[near], to_metres(surface.error, step_m=ERROR_STEP_M)[near]


def test_a_5_mm_step_with_20_readings_on_each_side_is_recovered_where_a_smooth_fit_smears_it() -> None:
    declared, smooth, covers, steps = [], [], [], []
    for seed in range(10):
        slab, seen, floor = _case(seed)
        surface = _fit(floor, seen)
        away, sd = _beside(slab, surface)
        declared.append(np.mean(np.square(away)))
        covers.append(np.mean(np.abs(away) < 1.96 * sd))
        smooth.append(np.mean(np.square(_beside(slab, _fit(slab.floor, seen))[0])))
        steps.append(surface.steps[0])
    assert np.sqrt(np.mean(declared)) < 0.0007
    assert np.sqrt(np.mean(smooth)) > 0.0015
    # Errors beside one joint are nearly one number, so the cover of ten slabs is only known roughly.
    assert 0.85 < np.mean(covers) <= 1.0
    # x grows to the right of the joint from (1.5, 0) to (1.5, 4): the right side is the higher one.
    assert np.mean([step.height_m for step in steps]) == pytest.approx(-STEP_M, abs=0.0008)
    assert all(0.0002 < step.sd_m < 0.0025 for step in steps)


def test_the_step_is_the_same_whichever_way_the_joint_is_drawn() -> None:
    slab, seen, floor = _case(3)
    other = _with_joint(slab.floor, ((1.5, 4.0), (1.5, 0.0)))
    one, two = _fit(floor, seen), _fit(other, seen)
    assert one.steps[0].height_m == pytest.approx(-two.steps[0].height_m, abs=1e-6)
    xs, _ = np.meshgrid(one.grid.xs(), one.grid.ys())
    off = np.abs(xs - 1.5) > 1e-6  # a node on the joint itself belongs to its left side
    assert np.abs(one.height - two.height)[off].max() <= 1


def test_a_step_on_a_floor_without_one_comes_out_as_nothing_within_its_error() -> None:
    rng = np.random.default_rng(5)
    slab = make_slab(rng=rng)
    seen = read_slab(slab=slab, places=grid_places(floor=slab.floor, count=300, rng=rng), rng=rng)
    (step,) = _fit(_with_joint(slab.floor, ((2.5, 0.0), (2.5, 7.0))), seen, 0.1).steps
    assert abs(step.height_m) < 3.0 * step.sd_m
    assert step.sd_m < 0.0015


def test_values_and_draws_know_the_side_of_the_joint() -> None:
    slab, seen, floor = _case(1)
    start = np.array([[1.0, 0.5], [0.9, 2.0], [1.2, 3.0]])
    end = start + np.array([0.9, 0.1])
    middle = start + 0.6 * (end - start)
    chord = 0.4 * slab.height(*start.T) + 0.6 * slab.height(*end.T)
    gaps = gaps_of(start=start, end=end, share=np.full(3, 0.6), gap_m=chord - slab.height(*middle.T))
    surface = _fit(floor, joined(seen, gaps), 0.1)
    xs, ys = np.meshgrid(surface.grid.xs(), surface.grid.ys())
    values = evaluate(spline=surface.spline, x_m=xs.ravel(), y_m=ys.ravel())
    np.testing.assert_allclose(values, to_metres(surface.height).ravel(), atol=0.51e-5)
    beside = evaluate(spline=surface.spline, x_m=np.array([1.499, 1.501]), y_m=np.full(2, 2.0))
    assert beside[1] - beside[0] == pytest.approx(STEP_M, abs=0.0015)
    count = 4000
    drawn = draw(spline=surface.spline, grid=surface.grid, count=count, rng=np.random.default_rng(1))
    sd = to_metres(surface.error, step_m=ERROR_STEP_M)
    # Bounds as in test_sample, for some 1,300 nodes.
    assert np.abs((drawn.mean(axis=0) - to_metres(surface.height)) / sd).max() < 5.0 / np.sqrt(count) + 0.02
    assert np.abs(drawn.std(axis=0) / sd - 1.0).max() < 5.0 / np.sqrt(2 * count) + 0.002


def test_draws_on_one_side_move_together_more_than_across_the_joint() -> None:
    _, seen, floor = _case(2)
    spline = _fit(floor, seen).spline
    grid = Grid(x0_m=1.3, y0_m=1.0, step_m=0.1, nx=4, ny=3)
    drawn = draw(spline=spline, grid=grid, count=20000, rng=np.random.default_rng(4))
    own = np.corrcoef(drawn[:, 1, 1], drawn[:, 1, 0])[0, 1]
    across = np.corrcoef(drawn[:, 1, 1], drawn[:, 1, 3])[0, 1]
    assert own > across + 0.1
    assert own > 0.75


def test_a_joint_that_ends_on_open_floor_jumps_along_itself_and_nowhere_else() -> None:
    floor = _with_joint(rectangle(5.0, 7.0), ((0.0, 3.0), (2.5, 3.0)))
    joints = spline_joints(floor)
    assert joints[0].beyond_start_m > 1000.0
    assert joints[0].beyond_end_m == 0.0
    x = np.linspace(0.01, 4.99, 200)
    over = columns(joints=joints, x_m=x, y_m=np.full(200, 3.0 + 1e-7))
    under = columns(joints=joints, x_m=x, y_m=np.full(200, 3.0 - 1e-7))
    jump = (over - under)[:, 0] / 0.01
    np.testing.assert_allclose(jump[x < 2.1], 1.0, atol=1e-6)
    np.testing.assert_allclose(jump[x > 2.5], 0.0, atol=1e-6)


def test_a_joint_runs_on_behind_a_wall_only_until_there_is_floor_again() -> None:
    u_shape = ((0.0, 0.0), (6.0, 0.0), (6.0, 4.0), (4.0, 4.0), (4.0, 1.0), (2.0, 1.0), (2.0, 4.0), (0.0, 4.0))
    (joint,) = spline_joints(_with_joint(floor_of(shell=u_shape), ((0.0, 3.0), (2.0, 3.0))))
    assert joint.beyond_start_m > 1000.0
    assert joint.beyond_end_m == pytest.approx(2.0)


def test_two_crossing_joints_each_have_their_step() -> None:
    rng = np.random.default_rng(8)
    smooth = make_slab(rng=rng, width_m=6.0, depth_m=6.0)
    floor = _with_joint(smooth.floor, ((3.0, 0.0), (3.0, 6.0)), ((0.0, 3.0), (6.0, 3.0)))

    def height(x: Floats, y: Floats) -> Floats:
        return np.asarray(smooth.height(x, y) - 0.004 * (x < 3.0) + 0.006 * (y > 3.0))

    slab = Slab(floor=floor, height=height)
    seen = read_slab(slab=slab, places=grid_places(floor=floor, count=400, rng=rng), rng=rng)
    surface = _fit(floor, seen, 0.1)
    assert len(surface.spline.joints) == 2
    assert all(len(joint.coefficient) == COLUMNS for joint in surface.spline.joints)
    middle = evaluate(
        spline=surface.spline, x_m=np.array([2.99, 3.01, 1.5, 1.5]), y_m=np.array([1.5, 1.5, 2.99, 3.01])
    )
    assert middle[1] - middle[0] == pytest.approx(0.004, abs=0.0012)
    assert middle[3] - middle[2] == pytest.approx(0.006, abs=0.0012)
