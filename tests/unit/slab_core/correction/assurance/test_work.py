"""What crews are off by, and what their finishing makes of a floor, one draw at a time."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import ndimage

from slab_core.correction.assurance.errors import PlacingDraws, placed_errors
from slab_core.correction.assurance.finish import Floors
from slab_core.correction.assurance.floors import Planned, Sample, as_built, planned, sample
from slab_core.correction.assurance.missed import Missed
from slab_core.correction.assurance.site import Site, site_of
from slab_core.correction.assurance_model import PlacingErrors
from slab_core.correction.bays import Bays, screed_bays
from slab_core.correction.model import Limits
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, Grid, to_metres
from slab_core.tolerance.model import Rule
from tests.invented_floors import FOOT_M, INCH_M, Work, rectangle, trough, work

PIN_SPACING_M = 1.2
RULE = Rule(length_m=6 * FOOT_M, gap_m=INCH_M / 8)
NO_RIPPLE = PlacingErrors(ripple_m=0.0)


def _bays(grid: Grid) -> Bays:
    floor = rectangle(width_m=float(grid.xs()[-1]), length_m=float(grid.ys()[-1]))
    places = grid.places()
    return screed_bays(floor=floor, x=places[:, 0], y=places[:, 1], step_m=grid.step_m)


def _errors(errors: PlacingErrors, *, count: int = 400) -> tuple[Grid, PlacingDraws]:
    grid = Grid(x0_m=0.0, y0_m=0.0, step_m=0.1, nx=51, ny=37)
    draws = placed_errors(
        grid=grid, bays=_bays(grid), pin_spacing_m=PIN_SPACING_M, errors=errors, count=count,
        rng=np.random.default_rng(3),
    )  # fmt: skip
    return grid, draws


def test_a_screeded_floor_is_straight_between_its_pins_and_off_by_a_pins_error_at_them() -> None:
    grid, draws = _errors(NO_RIPPLE)
    bays = _bays(grid)
    # Bays run along x here, so pins stand on lines of y; along a line the floor bends only at pins.
    along_x = abs(bays.turn.cos) < abs(bays.turn.sin)
    field = draws.screeded if along_x else draws.screeded.transpose(0, 2, 1)
    bends = np.abs(np.diff(field, n=2, axis=2)) > 1e-9
    pins = int(np.ceil((field.shape[2] - 1) * grid.step_m / PIN_SPACING_M)) + 1
    assert bends.any(axis=(0, 1)).sum() <= 2 * (pins - 2)
    corner = draws.screeded[:, 0, 0]
    assert corner.std() == pytest.approx(NO_RIPPLE.screeded_m, rel=0.12)
    assert draws.screeded.std() < NO_RIPPLE.screeded_m


def test_ground_and_trowelled_spots_are_off_as_a_whole_and_free_pours_over_some_feet() -> None:
    _, draws = _errors(NO_RIPPLE)
    for field, sd, alike_m in (
        (draws.ground, NO_RIPPLE.ground_m, 0.3),
        (draws.patched, NO_RIPPLE.patched_m, 0.3),
        (draws.free, NO_RIPPLE.free_m, 0.6),
    ):
        assert field.std() == pytest.approx(sd, rel=0.08)
        steps = round(alike_m / 0.1)
        near = np.mean(field[:, :, :-steps] * field[:, :, steps:]) / field.var()
        far = np.mean(field[:, :, :-40] * field[:, :, 40:]) / field.var()
        assert near > 0.6
        assert abs(far) < 0.15


def test_a_ripple_lies_on_all_of_them_alike() -> None:
    _, smooth = _errors(NO_RIPPLE, count=5)
    _, rippled = _errors(replace(NO_RIPPLE, ripple_m=0.0002), count=5)
    ripple = rippled.ground - smooth.ground
    assert ripple.std() == pytest.approx(0.0002, rel=0.2)
    assert np.allclose(rippled.screeded - smooth.screeded, ripple)


def _site(job: Work, *, placing: PlacingErrors = NO_RIPPLE) -> tuple[Site, Planned]:
    task = job.task()
    site = site_of(task=task, placing=placing, lengths_m=(RULE.length_m,))
    return site, planned(site=site, plan=job.at(height_m=0.014))


def _trough(**changes: object) -> Work:
    """Ground along its crests and filled between them, but for slabs that may not be ground."""
    return work(
        floor=rectangle(width_m=5.5, length_m=4.0), height_m=trough(width_m=5.5, depth_m=0.019), columns=55,
        **{"rules": (RULE,), **changes},
    )  # fmt: skip


def _with_slab(drawn: Sample, slab_m: Floats) -> Sample:
    return replace(drawn, slab_m=np.repeat(slab_m[None], len(drawn.slab_m), axis=0))


def test_a_grinder_takes_only_what_is_there_and_a_pour_covers_only_what_is_below_it() -> None:
    site, plan = _site(_trough())
    drawn = sample(site=site, count=20, rng=np.random.default_rng(1))
    deep = np.where(plan.ground_m > 0.0, plan.aim_m - 0.01, drawn.slab_m[0])
    (built,) = as_built(site=site, plan=plan, drawn=_with_slab(drawn, deep))
    only_ground = (plan.ground_m > 0.0) & ~plan.fed
    assert only_ground.any()
    assert np.allclose(built[:, only_ground], deep[only_ground])
    assert (built[:, plan.fed] > deep[plan.fed] + 0.005).all()
    high = np.where(plan.filled, plan.aim_m + 0.01, drawn.slab_m[0])
    (built,) = as_built(site=site, plan=plan, drawn=_with_slab(drawn, high))
    shown = drawn.placed.screeded[:, plan.filled] + site.placing.gauge_m
    assert np.allclose(built[:, plan.filled], (plan.aim_m[plan.filled] + shown))


def test_what_stands_through_a_pour_stays_on_a_slab_that_may_not_be_ground() -> None:
    site, plan = _site(_trough(limits=Limits(no_grinding=True, greatest_fill_m=0.05)))
    drawn = sample(site=site, count=5, rng=np.random.default_rng(1))
    high = np.where(plan.filled, plan.aim_m + 0.01, drawn.slab_m[0])
    (built,) = as_built(site=site, plan=plan, drawn=_with_slab(drawn, high))
    assert np.allclose(built[:, plan.filled], high[plan.filled])


def _floors(site: Site, plan: Planned, *, count: int = 30) -> Floors:
    drawn = sample(site=site, count=count, rng=np.random.default_rng(2))
    none = Missed(more_m=np.zeros((2, 1)), scale=np.ones(1))
    return Floors(
        site=site, plan=plan, missed=none, drawn=drawn, rng=np.random.default_rng(4), budget=Budget()
    )


def test_every_round_of_finishing_leaves_less_and_what_is_good_is_left_alone() -> None:
    clumsy = replace(NO_RIPPLE, screeded_m=0.003, ground_m=0.003)
    site, plan = _site(_trough(), placing=clumsy)
    floors = _floors(site, plan)
    medians = [np.median(floors.largest_m())]
    for rng in np.random.default_rng(5).spawn(3):
        floors.finish(rng)
        medians.append(np.median(floors.largest_m()))
    assert medians == sorted(medians, reverse=True)
    assert medians[0] > RULE.gap_m > medians[-1]
    site, plan = _site(_trough(), placing=replace(NO_RIPPLE, screeded_m=0.0001, ground_m=0.0001))
    floors = _floors(site, plan)
    floors.finish(np.random.default_rng(5))
    assert not floors.done.any()


def test_finishing_takes_a_hump_down_and_fills_a_dip_about_where_they_are() -> None:
    site, plan = _site(_trough(), placing=replace(NO_RIPPLE, screeded_m=0.0, ground_m=0.0))
    ny, nx = site.on.inside.shape
    bump = np.zeros((ny, nx))
    bump[ny // 2, nx // 2] = 1.0
    bump = ndimage.gaussian_filter(bump, 2.0)
    for sign in (1.0, -1.0):
        floors = _floors(site, plan)
        floors.built = (floors.built[0] + sign * 0.006 * bump / bump.max(),)
        floors.sides = [floors._check(0, np.ones(len(floors.done), dtype=np.bool_))]
        before = floors.largest_m()
        floors.finish(np.random.default_rng(6))
        assert (floors.largest_m() < before).all()
        assert np.median(floors.largest_m()) < 0.6 * np.median(before)
        middle = floors.done[:, ny // 2, nx // 2]
        assert (sign * middle < -0.001).all()


def test_a_slab_that_may_not_be_ground_is_only_skimmed_outside_the_fill() -> None:
    job = _trough(rules=(replace(RULE, gap_m=0.02),), limits=Limits(no_grinding=True))
    site, _ = _site(job)
    plan = planned(site=site, plan=job.plan())
    assert not plan.filled.any()
    (check,) = site.checks
    strict = replace(site, checks=(replace(check, rule=replace(RULE, gap_m=0.001)),))
    floors = _floors(strict, plan)
    before = floors.built[0].copy()
    floors.finish(np.random.default_rng(7))
    assert floors.done.any()
    assert (floors.done >= 0.0).all()
    assert np.array_equal(floors.built[0], before)
    assert np.allclose(before[0][site.on.inside], site.on.of(to_metres(job.surface.height))[site.on.inside])
