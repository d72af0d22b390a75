"""How the volumes of a plan vary with what its readings leave unsure."""

from functools import cache

import numpy as np

from slab_core.correction.model import Plan
from slab_core.correction.nodes import node_areas
from slab_core.correction.volume_spread import VolumeSpread, volume_spread
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, to_metres
from slab_core.rooms.geometry import floor_polygon
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import Surface, SurfaceOptions
from slab_core.surface.sample import draw
from tests.invented_floors import Work, rectangle, trough, work
from tests.slabs import Slab, grid_places, make_slab, read_slab


@cache
def _planned() -> tuple[Slab, Surface, Plan]:
    rng = np.random.default_rng(7)
    slab = make_slab(rng=rng, width_m=4.0, depth_m=5.0, hump_m=0.015)
    seen = read_slab(slab=slab, places=grid_places(floor=slab.floor, count=60, rng=rng), rng=rng)
    options = SurfaceOptions(grid_step_m=0.1)
    surface = fit_surface(floor=slab.floor, observations=seen, options=options, budget=Budget())
    return slab, surface, Work(floor=slab.floor, surface=surface, changes={}).plan()


def _spread(least_m: float = 0.0) -> VolumeSpread:
    slab, surface, plan = _planned()
    return volume_spread(floor=slab.floor, surface=surface, plan=plan, least_lift_m=least_m)


def _drawn_volumes(count: int) -> Floats:
    """Fill and ground volumes of the whole plan, m³, from draws of the surface itself, shape (2, count)."""
    slab, surface, plan = _planned()
    area = node_areas(shape=floor_polygon(slab.floor), grid=plan.grid, inside=plan.inside)
    drawn = draw(spline=surface.spline, grid=surface.grid, count=count, rng=np.random.default_rng(3))
    depth = to_metres(surface.height + plan.fill - plan.grind) - drawn
    filled, ground = plan.fill > 0, (plan.grind > 0) & (plan.fill == 0)
    fill = (area * np.maximum(depth, 0.0))[:, filled].sum(axis=1)
    key = (area * np.maximum(-depth, 0.0))[:, filled].sum(axis=1)
    cut = (area * np.maximum(-depth, 0.0))[:, ground].sum(axis=1)
    return np.stack([fill, cut + key])


def test_means_and_covariances_are_those_of_draws_of_the_surface() -> None:
    found, drawn = _spread(), _drawn_volumes(4000)
    pours = len(found.mean_m3) - 1
    assert pours >= 2
    whole = np.zeros((2, pours + 1))
    whole[0, :pours], whole[1, pours] = 1.0, 1.0
    mean, covariance = whole @ found.mean_m3, whole @ found.covariance @ whole.T
    sds = np.sqrt(np.diag(covariance))
    np.testing.assert_allclose(sds, drawn.std(axis=1), rtol=0.1)
    np.testing.assert_allclose(mean, drawn.mean(axis=1), atol=0.1 * sds.min())
    correlation = covariance[0, 1] / sds.prod()
    assert abs(correlation - np.corrcoef(drawn)[0, 1]) < 0.06


def test_volumes_drawn_are_never_negative_and_have_the_stated_moments() -> None:
    found = _spread()
    drawn = found.draws(count=20_000, rng=np.random.default_rng(1))
    assert drawn.min() >= 0.0
    np.testing.assert_allclose(np.cov(drawn), found.covariance, rtol=0.1, atol=0.03 * found.covariance.max())


def test_more_is_to_be_expected_than_is_planned_as_an_edge_can_only_add() -> None:
    _, _, plan = _planned()
    found = _spread()
    assert (found.mean_m3[:-1] >= [pour.volume_m3 - 1e-9 for pour in plan.pours]).all()
    assert found.mean_m3[-1] >= plan.grind_m3 - 1e-9


def test_a_slab_known_exactly_leaves_nothing_unsure() -> None:
    known = work(
        floor=rectangle(width_m=3.0, length_m=4.0), height_m=trough(width_m=3.0, depth_m=0.012), columns=30
    )
    plan = known.plan()
    found = volume_spread(floor=known.floor, surface=known.surface, plan=plan, least_lift_m=0.0)
    assert not found.covariance.any()
    np.testing.assert_allclose(found.mean_m3[:-1], [pour.volume_m3 for pour in plan.pours], rtol=1e-4)
    np.testing.assert_allclose(found.mean_m3[-1], plan.grind_m3, rtol=1e-3, atol=1e-9)
