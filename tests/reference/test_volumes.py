"""Cut and fill against two other ways to integrate the same heights.

Ours is the trapezoid rule: every node stands for the floor that is nearest to it, and a plan's volume is the
sum over nodes of that area times the depth. For all heights together that is the integral of the bilinear
surface, exactly. Cut and fill alone are a little more than that surface holds: a positive part is convex, so
no cell holds more than the mean of its corners' own, and only cells that the plane passes through hold less,
at most by the smaller of both means. Over triangles the floor's corners weigh 1/3 and 1/6 in place of 1/4.
"""

import numpy as np
import pytest

from slab_core.correction.model import Plan
from slab_core.numerics.grid import Floats
from tests.invented_floors import Work, rectangle, work

WIDTH_M, LENGTH_M, STEP_M, PLANE_MM = 6.0, 8.6, 0.1, 3.0
PARTS = 20


def _hills_m(x: Floats, y: Floats) -> Floats:
    hill = 14.0 * np.exp(-((x - 2.2) ** 2 + (y - 5.1) ** 2) / 2.5)
    return 1e-3 * (hill + 3.0 * np.sin(1.3 * x + 0.4) * np.cos(0.9 * y) + 1.1 * x)


@pytest.fixture(scope="module")
def job() -> Work:
    floor = rectangle(width_m=WIDTH_M, length_m=LENGTH_M)
    return work(floor=floor, height_m=_hills_m, columns=round(WIDTH_M / STEP_M))


@pytest.fixture(scope="module")
def plan(job: Work) -> Plan:
    return job.at(height_m=PLANE_MM * 1e-3)


@pytest.fixture(scope="module")
def corners(job: Work) -> Floats:
    """Heights above the plane at the four corners of every cell in mm, shape (2, 2, ny - 1, nx - 1)."""
    over = job.surface.height * 0.01 - PLANE_MM
    return np.array([[over[:-1, :-1], over[:-1, 1:]], [over[1:, :-1], over[1:, 1:]]])


def _litres(depth_mm: Floats) -> float:
    """Of depths that each stand for one cell."""
    return float(depth_mm.sum()) * STEP_M**2


def _bilinear(corners: Floats) -> Floats:
    """Mean over every cell of the bilinear surface's positive part, by many small parts."""
    share = (np.arange(PARTS) + 0.5) / PARTS
    ends = np.array([1.0 - share, share])
    total = np.zeros(corners.shape[2:])
    for v in ends.T:
        for u in ends.T:
            total += np.maximum(np.einsum("a,b,abji->ji", v, u, corners), 0.0)
    return total / PARTS**2


def _triangles(corners: Floats) -> Floats:
    """The same of two triangles to the cell, that meet along the diagonal from its first corner."""
    first, last = corners[0, 0], corners[1, 1]
    return (_prism(first, last, corners[0, 1]) + _prism(first, last, corners[1, 0])) / 2


def _prism(*at: Floats) -> Floats:
    """Mean of the positive part of a plane over a triangle with these heights at its corners."""
    low, middle, high = np.sort(np.stack(at), axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        tip = high**3 / ((high - low) * (high - middle)) / 3
        pit = (-low) ** 3 / ((high - low) * (middle - low)) / 3
    mean = (low + middle + high) / 3
    return np.select([low >= 0, middle >= 0, high >= 0], [mean, mean + pit, tip], 0.0)


def test_cut_less_fill_is_the_bilinear_volume(plan: Plan, corners: Floats) -> None:
    net = _litres(corners.mean(axis=(0, 1)))
    assert min(plan.grind_m3, plan.fill_m3) > 0.01
    assert (plan.grind_m3 - plan.fill_m3) * 1e3 == pytest.approx(net, abs=1e-9)


def test_cut_and_fill_exceed_the_bilinear_ones_by_no_more_than_the_cells_between(
    plan: Plan, corners: Floats
) -> None:
    above, below = (np.maximum(side, 0.0).mean(axis=(0, 1)) for side in (corners, -corners))
    between = _litres(np.minimum(above, below))
    for ours_m3, side in ((plan.grind_m3, corners), (plan.fill_m3, -corners)):
        over = ours_m3 * 1e3 - _litres(_bilinear(side))
        assert 0.0 < over <= between
    assert between < 0.02 * plan.fill_m3 * 1e3


def test_triangles_differ_from_ours_by_the_cells_between_and_the_floors_corners(
    plan: Plan, corners: Floats
) -> None:
    cut, fill = _litres(_triangles(corners)), _litres(_triangles(-corners))
    ends = corners[0, 0, 0, 0] + corners[1, 1, -1, -1] - corners[0, 1, 0, -1] - corners[1, 0, -1, 0]
    at_corners = ends / 12 * STEP_M**2  # 1/3 or 1/6 of a cell less 1/4
    assert cut - fill == pytest.approx((plan.grind_m3 - plan.fill_m3) * 1e3 + at_corners, abs=1e-9)
    above, below = (np.maximum(side, 0.0).mean(axis=(0, 1)) for side in (corners, -corners))
    slack = _litres(np.minimum(above, below)) + abs(at_corners)
    assert cut == pytest.approx(plan.grind_m3 * 1e3, rel=0, abs=slack)
    assert fill == pytest.approx(plan.fill_m3 * 1e3, rel=0, abs=slack)


def test_areas_and_pours_add_up_to_the_plan(plan: Plan) -> None:
    assert sum(area.volume_m3 for area in plan.grind_areas) == pytest.approx(plan.grind_m3, rel=1e-12, abs=0)
    assert sum(pour.volume_m3 for pour in plan.pours) == pytest.approx(plan.fill_m3, rel=1e-12, abs=0)
    assert plan.grind_m2 + plan.fill_m2 <= WIDTH_M * LENGTH_M + 1e-9
