"""The surface stage on slabs whose truth is known."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.errors import InputRefused
from slab_core.numerics.budget import Budget, Stopped
from slab_core.numerics.grid import ERROR_STEP_M, Floats, to_metres
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import Surface, SurfaceOptions
from slab_core.surveys.model import Observations
from tests.slabs import (
    Slab,
    floor_of,
    gaps_of,
    grid_places,
    heights_at,
    joined,
    make_slab,
    random_places,
    read_slab,
    rectangle,
)


def _fit(slab: Slab, seen: Observations, step: float | None = 0.1) -> Surface:
    options = SurfaceOptions(grid_step_m=step)
    return fit_surface(floor=slab.floor, observations=seen, options=options, budget=Budget())


def _errors(slab: Slab, surface: Surface) -> tuple[Floats, Floats]:
    """Error and standard error at the nodes inside, metres."""
    xs, ys = np.meshgrid(surface.grid.xs(), surface.grid.ys())
    away = to_metres(surface.height) - slab.height(xs, ys)
    return away[surface.inside], to_metres(surface.error, step_m=ERROR_STEP_M)[surface.inside]


def _case(*, seed: int, count: int, sd_m: float = 0.0007) -> tuple[Slab, Observations]:
    rng = np.random.default_rng(seed)
    slab = make_slab(rng=rng)
    return slab, read_slab(
        slab=slab, places=grid_places(floor=slab.floor, count=count, rng=rng), rng=rng, sd_m=sd_m
    )


@pytest.mark.parametrize(("count", "rmse_m"), [(60, 0.0013), (150, 0.0008), (500, 0.0005), (2000, 0.0003)])
def test_more_readings_bring_the_surface_closer_to_the_truth(count: int, rmse_m: float) -> None:
    squares = []
    for seed in range(4):
        slab, seen = _case(seed=seed, count=count)
        squares.append(np.mean(np.square(_errors(slab, _fit(slab, seen))[0])))
    assert np.sqrt(np.mean(squares)) < rmse_m


def test_a_95_per_cent_band_covers_what_it_says_over_twenty_slabs() -> None:
    # The nodes of one slab are correlated: over slabs the cover of one has a standard deviation of
    # about 0.03 here, so the mean of 20 is known to about 0.007.
    covers = []
    for seed in range(20):
        slab, seen = _case(seed=100 + seed, count=(40, 90, 150, 250)[seed % 4])
        away, sd = _errors(slab, _fit(slab, seen))
        covers.append(np.mean(np.abs(away) < 1.96 * sd))
    assert 0.92 < np.mean(covers) < 0.985


def test_a_plane_read_without_noise_is_that_plane() -> None:
    floor = rectangle(4.0, 3.0)
    x, y = random_places(floor=floor, count=30, rng=np.random.default_rng(1))
    slab = Slab(floor=floor, height=lambda a, b: np.asarray(100.0 + 0.01 * a - 0.02 * b))
    surface = _fit(slab, heights_at(x_m=x, y_m=y, value_m=slab.height(x, y)))
    away, sd = _errors(slab, surface)
    assert np.abs(away).max() <= 0.51e-5
    assert surface.misreads == ()
    # What thirty readings cannot see may still be there, but less of it than on a slab that is seen to wave.
    waved = Slab(floor=floor, height=lambda a, b: slab.height(a, b) + 0.005 * np.sin(3 * a) * np.sin(2 * b))
    _, waved_sd = _errors(waved, _fit(waved, heights_at(x_m=x, y_m=y, value_m=waved.height(x, y))))
    assert sd.mean() < 0.8 * waved_sd.mean()


@pytest.mark.parametrize("count", [3, 4, 5, 8, 12, 20])
def test_few_readings_give_a_gentle_surface_with_wide_errors(count: int) -> None:
    for seed in range(5):
        rng = np.random.default_rng(seed)
        slab = make_slab(rng=rng)
        seen = read_slab(slab=slab, places=random_places(floor=slab.floor, count=count, rng=rng), rng=rng)
        surface = _fit(slab, seen)
        away, sd = _errors(slab, surface)
        assert np.isfinite(away).all()
        assert np.sqrt(np.mean(away**2)) < 3.0 * np.sqrt(np.mean(sd**2))
        assert any(p.code == "measure-more-here" for p in surface.problems)


def test_standard_errors_grow_where_nobody_measured() -> None:
    slab, seen = _case(seed=3, count=150)
    near = seen.x_m[:, 0] < 2.5
    half = replace(
        seen,
        **{
            name: getattr(seen, name)[near]
            for name in ("x_m", "y_m", "weight", "value_m", "sd_m", "position_sd_m")
        },
        pointer=tuple(p for p, keep in zip(seen.pointer, near, strict=True) if keep),
    )
    surface = _fit(slab, half)
    error, xs = to_metres(surface.error, step_m=ERROR_STEP_M), surface.grid.xs()
    measured, bare = error[:, xs < 2.2].max(), error[:, xs > 4.5].min()
    assert bare > 3.0 * measured
    places = [p for p in surface.problems if p.code == "measure-more-here"]
    assert places
    assert "take more readings there" in places[0].detail


@pytest.mark.parametrize("amount_m", [0.0254, -0.0254, 0.0127])
def test_a_misread_of_an_inch_is_reported_by_its_row_and_left_out(amount_m: float) -> None:
    slab, seen = _case(seed=4, count=150)
    row = int(np.hypot(seen.x_m[:, 0] - 2.5, seen.y_m[:, 0] - 3.5).argmin())
    value = seen.value_m.copy()
    value[row] += amount_m
    clean, surface = _fit(slab, seen), _fit(slab, replace(seen, value_m=value))
    assert [m.pointer for m in surface.misreads] == [seen.pointer[row]]
    assert surface.misreads[0].residual_m == pytest.approx(amount_m, abs=0.003)
    assert surface.observations_used == len(value) - 1
    (problem,) = [p for p in surface.problems if p.code == "misread"]
    assert problem.pointer == seen.pointer[row]
    assert problem.severity == "finding"
    assert "in (" in problem.detail
    assert "measure again" in problem.detail
    rmse = [np.sqrt(np.mean(_errors(slab, s)[0] ** 2)) for s in (clean, surface)]
    assert rmse[1] < 1.1 * rmse[0]


def test_a_gap_misread_as_too_wide_is_told_as_a_floor_too_low() -> None:
    slab, seen = _case(seed=4, count=150)
    start = np.column_stack([np.linspace(1.0, 3.0, 6), np.full(6, 2.0)])
    end = start + np.array([0.8, 1.0])
    middle = (start + end) / 2
    gap = (slab.height(*start.T) + slab.height(*end.T)) / 2 - slab.height(*middle.T)
    gap[3] += 0.0254
    surface = _fit(slab, joined(seen, gaps_of(start=start, end=end, share=np.full(6, 0.5), gap_m=gap)))
    (problem,) = [p for p in surface.problems if p.code in ("misread", "doubtful-reading")]
    assert problem.pointer == "/surveys/0/gaps/0/rows/3"
    assert " lower than " in problem.detail


def test_two_in_a_hundred_misreads_are_all_found_and_cost_little_accuracy() -> None:
    slab, seen = _case(seed=6, count=500)
    rng = np.random.default_rng(0)
    bad = rng.permutation(len(seen.value_m))[:10]
    value = seen.value_m.copy()
    value[bad] += 0.0254 * rng.choice([-1.0, 1.0], 10)
    clean, surface = _fit(slab, seen), _fit(slab, replace(seen, value_m=value))
    assert {m.pointer for m in surface.misreads} == {seen.pointer[i] for i in bad}
    rmse = [np.sqrt(np.mean(_errors(slab, s)[0] ** 2)) for s in (clean, surface)]
    assert rmse[1] < 1.1 * rmse[0]


def test_a_lone_high_reading_that_may_be_a_hump_stays_in_and_is_asked_for_again() -> None:
    slab, seen = _case(seed=7, count=60)
    row = int(np.hypot(seen.x_m[:, 0] - 2.5, seen.y_m[:, 0] - 3.5).argmin())
    value = seen.value_m.copy()
    value[row] += 0.0254
    surface = _fit(slab, replace(seen, value_m=value))
    assert surface.misreads == ()
    assert surface.observations_used == len(value)
    (doubt,) = [p for p in surface.problems if p.pointer == seen.pointer[row]]
    assert doubt.code == "doubtful-reading"
    assert "measure again" in doubt.detail


def test_a_step_is_not_taken_for_misreads() -> None:
    rng = np.random.default_rng(8)
    slab = make_slab(rng=rng, step_m=0.012)
    seen = read_slab(slab=slab, places=grid_places(floor=slab.floor, count=200, rng=rng), rng=rng)
    assert _fit(slab, seen).misreads == ()


def test_good_readings_noted_six_inches_off_on_a_slope_are_not_called_misreads() -> None:
    # 3/4 in in 6 ft and 6 in of position are 1/16 in of height.
    rng = np.random.default_rng(9)
    floor = rectangle(5.0, 5.0)
    slab = Slab(floor=floor, height=lambda x, y: np.asarray(0.0104 * x + 0.003 * np.sin(2 * y)))
    places = grid_places(floor=floor, count=120, rng=rng)
    seen = read_slab(slab=slab, places=places, rng=rng, sd_m=0.0003, position_sd_m=0.15)
    surface = _fit(slab, seen)
    assert surface.misreads == ()
    assert not [p for p in surface.problems if p.code == "doubtful-reading"]
    assert surface.noise_sd_m > 0.001


def test_gaps_under_an_edge_sharpen_the_surface_between_readings() -> None:
    rng = np.random.default_rng(10)
    slab = make_slab(rng=rng)
    seen = read_slab(slab=slab, places=grid_places(floor=slab.floor, count=30, rng=rng), rng=rng)
    start = np.column_stack([np.full(24, 0.1), np.repeat(np.linspace(0.3, 6.7, 8), 3)])
    end = start + np.array([3.0, 0.0])
    share = np.tile([0.25, 0.5, 0.75], 8)
    middle = start + share[:, None] * (end - start)
    gap = (
        (1 - share) * slab.height(*start.T) + share * slab.height(*end.T) - slab.height(*middle.T)
    ) + rng.normal(0, 0.0003, 24)
    with_gaps = joined(seen, gaps_of(start=start, end=end, share=share, gap_m=gap))
    rmse = [np.sqrt(np.mean(_errors(slab, _fit(slab, s))[0] ** 2)) for s in (seen, with_gaps)]
    assert rmse[1] < 0.9 * rmse[0]


@pytest.mark.parametrize(
    ("x", "y"),
    [
        ([0.5, 2.0], [0.5, 2.0]),
        ([0.5, 1.0, 2.0, 2.5], [0.5, 1.0, 2.0, 2.5]),
        ([1.0, 1.0, 1.0], [1.0, 1.0, 1.0]),
    ],
)
def test_too_few_readings_or_all_on_one_line_are_refused(x: list[float], y: list[float]) -> None:
    seen = heights_at(x_m=np.array(x), y_m=np.array(y), value_m=np.zeros(len(x)))
    with pytest.raises(InputRefused) as caught:
        _fit(Slab(floor=rectangle(3.0, 3.0), height=lambda a, b: a), seen)
    (problem,) = caught.value.problems
    assert (problem.code, problem.severity) == ("readings-too-few", "refusal")
    assert problem.pointer == "/surveys"
    assert f"height readings in usable places on floor A: {len(x)};" in problem.detail


def test_gaps_alone_are_refused_because_they_say_nothing_of_the_level() -> None:
    ends = np.array([[0.2, 0.2], [0.2, 1.0], [0.2, 2.0], [0.5, 2.5]])
    seen = gaps_of(start=ends, end=ends + 0.4, share=np.full(4, 0.5), gap_m=np.zeros(4))
    with pytest.raises(InputRefused, match="say nothing of the level"):
        _fit(Slab(floor=rectangle(3.0, 3.0), height=lambda a, b: a), seen)


def test_a_reading_that_is_no_number_is_refused_by_its_row() -> None:
    slab, seen = _case(seed=1, count=60)
    value = seen.value_m.copy()
    value[7] = np.nan
    with pytest.raises(InputRefused) as caught:
        _fit(slab, replace(seen, value_m=value))
    assert caught.value.problems[0].pointer == seen.pointer[7]


def test_the_grid_covers_the_floor_and_knows_what_lies_outside() -> None:
    ell = ((0.0, 0.0), (4.0, 0.0), (4.0, 2.0), (2.0, 2.0), (2.0, 5.03), (0.0, 5.03))
    floor = floor_of(shell=ell, gaps=(((0.5, 0.5), (1.0, 0.5), (1.0, 1.0), (0.5, 1.0)),))
    x, y = random_places(floor=floor, count=40, rng=np.random.default_rng(2))
    surface = _fit(
        Slab(floor=floor, height=lambda a, b: a), heights_at(x_m=x, y_m=y, value_m=0.001 * x), None
    )
    grid = surface.grid
    assert grid.step_m == 0.05
    assert -0.05 <= grid.x0_m <= 0.0
    assert -0.05 <= grid.y0_m <= 0.0
    assert 4.0 <= grid.xs()[-1] <= 4.05 + 1e-9
    assert 5.03 <= grid.ys()[-1] <= 5.08
    assert surface.height.dtype == surface.error.dtype == np.int32

    def inside(px: float, py: float) -> bool:
        j, i = np.abs(grid.ys() - py).argmin(), np.abs(grid.xs() - px).argmin()
        return bool(surface.inside[j, i])

    assert inside(3.0, 1.0)
    assert not inside(3.0, 3.0)
    assert not inside(0.75, 0.75)


def test_the_same_readings_give_the_same_surface_and_a_turned_room_the_turned_one() -> None:
    slab, seen = _case(seed=11, count=120)
    once, again = _fit(slab, seen), _fit(slab, seen)
    assert np.array_equal(once.height, again.height)
    turned_floor = rectangle(7.0, 5.0)
    turned = fit_surface(
        floor=turned_floor,
        observations=replace(seen, x_m=seen.y_m, y_m=seen.x_m),
        options=SurfaceOptions(grid_step_m=0.1),
        budget=Budget(),
    )
    assert np.abs(turned.height.T - once.height).max() <= 1
    assert np.abs(turned.error.T - once.error).max() <= 1


def test_a_cancelled_fit_stops() -> None:
    slab, seen = _case(seed=12, count=60)
    with pytest.raises(Stopped):
        fit_surface(
            floor=slab.floor, observations=seen, options=SurfaceOptions(), budget=Budget(stop=lambda: True)
        )
