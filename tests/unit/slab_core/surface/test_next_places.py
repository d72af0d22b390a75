"""The next places against dense covariance algebra, and what they may and may not be."""

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from scipy.linalg import cho_solve
from scipy.special import ndtr

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import ERROR_STEP_M, Floats, Mask, to_metres, to_steps
from slab_core.rooms.model import Joint
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import Surface, SurfaceOptions
from slab_core.surface.next_places import NextPlaces, heights_read, measurable, next_places
from slab_core.surface.posterior import axes, on_grid, solved
from slab_core.surface.relief import relief_field
from slab_core.surface.sample import draw, rebuilt
from slab_core.surface.unknown import Sums, straight
from tests.slabs import gaps_of, grid_places, joined, make_slab, places_beside_joint, read_slab, stepped

READING_SD_M = 0.001


def _seen(*, width: float, depth: float, count: int, with_gaps: bool, seed: int) -> tuple[Surface, Mask]:
    rng = np.random.default_rng(seed)
    slab = make_slab(rng=rng, width_m=width, depth_m=depth)
    seen = read_slab(slab=slab, places=grid_places(floor=slab.floor, count=count, rng=rng), rng=rng)
    if with_gaps:
        start = np.array([[0.1, 0.2], [0.3, 0.9]])
        gaps = gaps_of(
            start=start, end=start + np.array([1.5, 0.1]), share=np.full(2, 0.5), gap_m=np.full(2, 0.001)
        )
        seen = joined(seen, gaps)
    options = SurfaceOptions(grid_step_m=0.2)
    surface = fit_surface(floor=slab.floor, observations=seen, options=options, budget=Budget())
    return surface, measurable(floor=slab.floor, surface=surface, off_walls_m=0.1, apart_m=0.2)


def _jointed(seed: int = 4) -> tuple[Surface, Mask]:
    """A 3 × 4 m room with a declared joint across its middle at x = 1.5 m."""
    rng = np.random.default_rng(seed)
    slab = stepped(make_slab(rng=rng, width_m=3.0, depth_m=4.0, hump_m=0.0), at_m=1.5, step_m=0.005)
    seen = read_slab(slab=slab, places=places_beside_joint(rng=rng), rng=rng)
    joint = Joint(id="j", kind="construction", start=(1.5, 0.0), end=(1.5, 4.0))
    floor = replace(slab.floor, rooms=(replace(slab.floor.rooms[0], joints=(joint,)),))
    options = SurfaceOptions(grid_step_m=0.2)
    surface = fit_surface(floor=floor, observations=seen, options=options, budget=Budget())
    return surface, measurable(floor=floor, surface=surface, off_walls_m=0.1, apart_m=0.2)


CASES: dict[str, Callable[[], tuple[Surface, Mask]]] = {
    "upright": lambda: _seen(width=2.0, depth=3.0, count=20, with_gaps=False, seed=1),
    "lying": lambda: _seen(width=3.0, depth=2.0, count=20, with_gaps=False, seed=2),
    "with gaps": lambda: _seen(width=3.0, depth=2.0, count=16, with_gaps=True, seed=3),
    "with a joint": _jointed,
}


@pytest.fixture(params=CASES, scope="module")
def case(request: pytest.FixtureRequest) -> tuple[Surface, Mask]:
    return CASES[request.param]()


def _covariance(surface: Surface) -> Floats:
    """Of the heights at all nodes, dense, shape (nodes, nodes)."""
    found = rebuilt(surface.spline)
    rows, columns = axes(found.design, surface.grid)
    if found.design.swapped:
        places = np.einsum("xa,yb->yxab", rows, columns).reshape(-1, rows.shape[1] * columns.shape[1])
    else:
        places = np.einsum("ya,xb->yxab", rows, columns).reshape(-1, rows.shape[1] * columns.shape[1])
    spread = places @ solved(found, places.T)
    if len(found.schur):
        left = on_grid(found.design, surface.grid).reshape(len(places), -1) - places @ found.shared
        spread += left @ cho_solve((found.schur, True), left.T)
    field = relief_field(spline=surface.spline, grid=surface.grid)
    alike = np.kron(field.rows @ field.rows.T, field.columns @ field.columns.T)
    return np.asarray(spread + np.outer(field.sd_m, field.sd_m) * alike)


def _without_relief(surface: Surface) -> Surface:
    """The same surface as if nothing could lie unseen between readings."""
    field = relief_field(spline=surface.spline, grid=surface.grid)
    error = np.sqrt(np.square(to_metres(surface.error, step_m=ERROR_STEP_M)) - np.square(field.sd_m))
    spline = replace(surface.spline, relief=None)
    return replace(surface, spline=spline, error=to_steps(error, step_m=ERROR_STEP_M))


def _weights(surface: Surface, seed: int = 0) -> Floats:
    """A sum over one half of the floor and one over all of it."""
    xs, ys = np.meshgrid(surface.grid.xs(), surface.grid.ys())
    wavy = 1.0 + np.sin(2.1 * xs + seed) * np.cos(1.3 * ys)
    half = xs < np.median(surface.grid.xs())
    return np.stack([surface.inside * half * wavy, surface.inside * wavy]) * surface.grid.cell_area_m2()


def _chosen(case: tuple[Surface, Mask], **changes: object) -> NextPlaces:
    surface, allowed = case
    values: dict[str, object] = {
        "surface": surface,
        "sums": straight(_weights(surface)),
        "count": 6,
        "reading_sd_m": READING_SD_M,
        "allowed": allowed,
        "apart_m": 0.3,
    }
    return next_places(**(values | changes))  # type: ignore[arg-type]  # values of many kinds


def _node(surface: Surface, at: tuple[float, float]) -> int:
    grid = surface.grid
    column, row = (round((a - low) / grid.step_m) for a, low in zip(at, (grid.x0_m, grid.y0_m), strict=True))
    return row * grid.nx + column


def test_every_standard_deviation_is_that_of_dense_algebra(case: tuple[Surface, Mask]) -> None:
    surface, _ = case
    found, spread = _chosen(case), _covariance(surface)
    weights = _weights(surface).reshape(2, -1)
    assert len(found.places) == 6
    taken: list[int] = []
    for place in (None, *found.places):
        if place is not None:
            taken.append(_node(surface, place.at))
        own = spread[np.ix_(taken, taken)] + READING_SD_M**2 * np.eye(len(taken))
        left = spread - spread[:, taken] @ np.linalg.solve(own, spread[taken])
        dense = np.sqrt(np.einsum("ki,ij,kj->k", weights, left, weights))
        assert (found.sd if place is None else place.sd) == pytest.approx(dense, rel=1e-8)


def test_each_choice_is_the_best_of_all_candidates_by_brute_force(case: tuple[Surface, Mask]) -> None:
    surface, allowed = case
    found, left = _chosen(case), _covariance(surface)
    weight, noise = _weights(surface)[0].ravel(), READING_SD_M**2
    xs, ys = (axis.ravel() for axis in np.meshgrid(surface.grid.xs(), surface.grid.ys()))
    free = allowed.ravel().copy()
    for place in found.places:
        after = [
            weight @ (left - np.outer(left[p], left[p]) / (left[p, p] + noise)) @ weight
            for p in np.flatnonzero(free)
        ]
        p = _node(surface, place.at)
        # The nodes' own variances are stored in 0.001 mm, which may decide between places as good as equal.
        assert place.sd[0] ** 2 == pytest.approx(min(after), rel=2e-3)
        left = left - np.outer(left[p], left[p]) / (left[p, p] + noise)
        free &= np.hypot(xs - xs[p], ys - ys[p]) >= 0.3 - 1e-9


@pytest.mark.parametrize("name", ["upright", "lying", "with gaps"])
def test_the_fit_with_the_readings_taken_knows_the_sum_as_predicted(name: str) -> None:
    """Of the smooth part: what a joint does, and what lies unseen, are not worked out again by `rebuilt`."""
    surface, allowed = CASES[name]()
    surface = _without_relief(surface)
    found, spline = _chosen((surface, allowed)), surface.spline
    x, y = np.array([place.at for place in found.places]).T
    zero = np.zeros((len(x), 2))
    more = replace(
        spline,
        obs_x_m=np.vstack([spline.obs_x_m, np.column_stack([x, zero])]),
        obs_y_m=np.vstack([spline.obs_y_m, np.column_stack([y, zero])]),
        obs_weight=np.vstack([spline.obs_weight, np.column_stack([np.ones(len(x)), zero])]),
        obs_value_m=np.append(spline.obs_value_m, np.zeros(len(x))),
        obs_sd_m=np.append(spline.obs_sd_m, np.full(len(x), READING_SD_M)),
    )
    spread = _covariance(replace(surface, spline=more))
    weights = _weights(surface).reshape(2, -1)
    after = np.sqrt(np.einsum("ki,ij,kj->k", weights, spread, weights))
    assert found.places[-1].sd == pytest.approx(after, rel=1e-6)


def test_the_model_never_prefers_as_many_readings_on_a_regular_grid(case: tuple[Surface, Mask]) -> None:
    surface, allowed = case
    rows, columns = np.nonzero(allowed)
    xs, ys = surface.grid.xs()[columns], surface.grid.ys()[rows]
    found, spread = _chosen(case), _covariance(surface)
    weight = _weights(surface)[0].ravel()
    for across, along in ((2, 3), (3, 2)):
        gx, gy = np.meshgrid(np.quantile(xs, _middles(across)), np.quantile(ys, _middles(along)))
        on_grid_places = zip(gx.ravel(), gy.ravel(), strict=True)
        nearest = [int(np.hypot(xs - x, ys - y).argmin()) for x, y in on_grid_places]
        taken = [_node(surface, (float(xs[i]), float(ys[i]))) for i in nearest]
        own = spread[np.ix_(taken, taken)] + READING_SD_M**2 * np.eye(6)
        left = spread - spread[:, taken] @ np.linalg.solve(own, spread[taken])
        assert found.places[-1].sd[0] <= np.sqrt(weight @ left @ weight)


def _middles(count: int) -> Floats:
    return (np.arange(count) + 0.5) / count


def test_a_reading_across_a_joint_says_little_of_this_side() -> None:
    surface, allowed = _jointed()
    xs, _ = np.meshgrid(surface.grid.xs(), surface.grid.ys())
    # The sum is over the strip of 0.5 m on the left of the joint; places mirror each other in it.
    weights = np.where((xs > 1.0) & (xs < 1.5), surface.grid.cell_area_m2(), 0.0)[None]

    def taken_off(side: Mask, of: Surface) -> float:
        found = _chosen((of, allowed & side), sums=straight(weights), count=1)
        return found.sd[0] ** 2 - found.places[0].sd[0] ** 2

    left, right = (xs > 1.0) & (xs < 1.5), (xs > 1.5) & (xs < 2.0)
    assert taken_off(right, surface) < 0.25 * taken_off(left, surface)
    same = replace(surface, spline=replace(surface.spline, joints=()))
    assert taken_off(right, same) > 1.5 * taken_off(right, surface)


def test_only_allowed_places_are_taken_and_none_near_another(case: tuple[Surface, Mask]) -> None:
    surface, allowed = case
    found = _chosen(case, count=50, apart_m=0.45)
    nodes = [_node(surface, place.at) for place in found.places]
    assert len(set(nodes)) == len(nodes) >= 3
    assert allowed.ravel()[nodes].all()
    for i, one in enumerate(found.places):
        assert all(np.hypot(*np.subtract(one.at, other.at)) >= 0.45 - 1e-9 for other in found.places[:i])


def test_no_place_is_allowed_near_a_wall_a_joint_or_a_height_already_read() -> None:
    surface, allowed = _jointed()
    xs, ys = np.meshgrid(surface.grid.xs(), surface.grid.ys())
    x, y = xs[allowed], ys[allowed]
    assert allowed.any()
    assert np.minimum.reduce([x, 3.0 - x, y, 4.0 - y, np.abs(x - 1.5)]).min() >= 0.1 - 1e-9
    read = heights_read(surface.spline)
    assert len(read) == 40
    assert min(np.hypot(*(read - at).T).min() for at in np.column_stack([x, y])) >= 0.2 - 1e-9


def test_a_gap_leaves_the_floor_under_its_edge_to_be_measured() -> None:
    surface, _ = CASES["with gaps"]()
    assert len(heights_read(surface.spline)) == len(surface.spline.obs_sd_m) - 2


def test_more_are_asked_for_than_there_are_places() -> None:
    surface, allowed = CASES["upright"]()
    few = np.zeros_like(allowed)
    few.ravel()[np.flatnonzero(allowed)[:3]] = True
    assert 1 <= len(_chosen((surface, few), count=50, apart_m=0.0).places) <= 3
    assert _chosen((surface, np.zeros_like(allowed))).places == ()
    assert _chosen((surface, allowed), count=0).places == ()


def test_nothing_is_proposed_once_the_sum_is_known_well_enough(case: tuple[Surface, Mask]) -> None:
    all_of_them = _chosen(case)
    assert _chosen(case, known_sd=all_of_them.sd[0]).places == ()
    third = _chosen(case, known_sd=all_of_them.places[2].sd[0])
    assert third.places == all_of_them.places[:3]


def test_nothing_is_proposed_where_heights_are_known_exactly() -> None:
    surface, allowed = CASES["upright"]()
    exact = replace(surface, error=np.zeros_like(surface.error))
    assert _chosen((exact, allowed)) == NextPlaces(sd=(0.0, 0.0), places=())


def test_each_place_takes_off_no_more_than_the_one_before_allows(case: tuple[Surface, Mask]) -> None:
    found = _chosen(case)
    for before, after in pairwise([found.sd, *(place.sd for place in found.places)]):
        assert after[0] < before[0]
        assert after[1] <= before[1]


def test_what_is_filled_is_known_as_draws_of_the_floor_say_before_and_after() -> None:
    """Fill bends where the plane meets the slab; weights of the expected slope leave out little of it."""
    surface, allowed = _seen(width=3.0, depth=4.0, count=24, with_gaps=False, seed=5)
    level = float(np.median(to_metres(surface.height)[surface.inside]))
    rng = np.random.default_rng(6)
    drawn = draw(spline=surface.spline, grid=surface.grid, count=6000, rng=rng)
    area = surface.inside * surface.grid.cell_area_m2()
    filled = np.einsum("kji,ji->k", np.maximum(level - drawn, 0.0), area)
    below = (drawn < level).mean(axis=0)
    found = _chosen((surface, allowed), sums=straight((-area * below)[None]), count=5)
    nodes = [_node(surface, place.at) for place in found.places]
    read = drawn.reshape(len(drawn), -1)[:, nodes] + READING_SD_M * rng.standard_normal((len(drawn), 5))
    columns = np.column_stack([np.ones(len(drawn)), read])
    left = filled - columns @ np.linalg.lstsq(columns, filled, rcond=None)[0]
    # A standard deviation of 6,000 draws is itself good to 1 %.
    assert found.sd[0] == pytest.approx(filled.std(), rel=0.10)
    assert found.places[-1].sd[0] == pytest.approx(left.std(), rel=0.15)


def _two_sided(surface: Surface, level_m: float, area: Floats, spread: Floats) -> Sums:
    """Fill below a level and four times as dear a cut above it, which bends hard where they meet."""
    sd = np.sqrt(np.diag(spread)).reshape(surface.inside.shape)
    t = (level_m - to_metres(surface.height)) / sd
    below, density = ndtr(t), np.exp(-0.5 * t**2) / np.sqrt(2 * np.pi) / sd
    drawn = draw(spline=surface.spline, grid=surface.grid, count=200, rng=np.random.default_rng(1))
    return Sums(
        weights=(area * (4.0 * (1.0 - below) - below))[None],
        bends=(area * 5.0 * density)[None],
        probes=drawn - to_metres(surface.height),
    )


def test_bends_add_what_draws_show_and_readings_take_off_their_part_of_it() -> None:
    """Against nested draws: floors as they may be, read, and the floors that are left possible then."""
    surface, allowed = _seen(width=3.0, depth=4.0, count=24, with_gaps=False, seed=5)
    area = np.where(surface.inside, surface.grid.cell_area_m2(), 0.0)
    level = float(np.median(to_metres(surface.height)[surface.inside]))
    spread = _covariance(surface)
    sums = _two_sided(surface, level, area, spread)
    found = _chosen((surface, allowed), sums=sums, count=5)
    nodes = [_node(surface, place.at) for place in found.places]
    rng = np.random.default_rng(2)
    drawn = draw(spline=surface.spline, grid=surface.grid, count=6000, rng=rng).reshape(6000, -1)

    def total(heights: Floats) -> Floats:
        return (np.maximum(level - heights, 0.0) + 4.0 * np.maximum(heights - level, 0.0)) @ area.ravel()

    own = spread[np.ix_(nodes, nodes)] + READING_SD_M**2 * np.eye(5)
    gain = np.linalg.solve(own, spread[nodes])
    read = drawn[:, nodes] + READING_SD_M * rng.standard_normal((len(drawn), 5))
    left = [total(drawn[1000:2000] + (read[i] - read[1000:2000]) @ gain).var() for i in range(60)]
    straight_only = _chosen((surface, allowed), sums=straight(sums.weights), count=5)
    assert found.sd[0] == pytest.approx(total(drawn).std(), rel=0.04)
    assert found.places[-1].sd[0] == pytest.approx(np.sqrt(np.mean(left)), rel=0.06)
    assert straight_only.places[-1].sd[0] < found.places[-1].sd[0]
    assert [place.at for place in straight_only.places] == [place.at for place in found.places]


def test_a_reading_without_error_at_a_place_known_already_does_no_harm() -> None:
    surface, allowed = CASES["upright"]()
    error = surface.error.copy()
    error[allowed.nonzero()[0][0]] = 0
    found = _chosen((replace(surface, error=error), allowed), reading_sd_m=0.0)
    assert len(found.places) == 6
    assert np.isfinite([place.sd for place in found.places]).all()
