"""Scans of a slab whose height is known everywhere, with things on it."""

import numpy as np
import pytest

from slab_core.errors import InputRefused
from slab_core.numerics.budget import Budget, Stopped
from slab_core.scans.model import Placement, ScanOptions
from slab_core.scans.reduce import reduce_scan
from tests.slabs import floor_of
from tests.unit.slab_core.scans.scanned import (
    DEPTH_M,
    NOISE_M,
    WIDTH_M,
    a_slab,
    errors,
    reduced,
    rms,
    scan,
    within,
)

SLAB = a_slab()
POINTS = scan(slab=SLAB)
TABLE = (0.6, 0.6, 2.0, 1.4)


def under_table(points: np.ndarray, *, hidden: float, top_m: float = 0.74) -> np.ndarray:
    """The same scan with a table that hides a share of the returns below it."""
    rng = np.random.default_rng(5)
    away = within(points[:, 0], points[:, 1], TABLE) & (rng.random(len(points)) < hidden)
    points = points.copy()
    points[away, 2] = top_m + rng.normal(0, NOISE_M, np.count_nonzero(away))
    return points


def box(points: np.ndarray, frame: tuple[float, float, float, float], height_m: float) -> np.ndarray:
    """The same scan with a box on the floor, of which only the top is seen."""
    points = points.copy()
    on = within(points[:, 0], points[:, 1], frame)
    points[on, 2] = SLAB.height(points[on, 0], points[on, 1]) + height_m
    points[on, 2] += np.random.default_rng(6).normal(0, NOISE_M, np.count_nonzero(on))
    return points


def test_the_floor_comes_back_within_a_third_of_a_millimetre_through_ten_per_cent_of_clutter() -> None:
    cells = reduced(SLAB.floor, POINTS)
    assert cells.cells_covered > 0.999 * (WIDTH_M / 0.025) * (DEPTH_M / 0.025)
    assert rms(errors(SLAB, cells)) < 0.0003
    assert np.abs(errors(SLAB, cells)).max() < 0.0015


def test_the_floor_under_a_table_that_hides_seven_tenths_is_recovered() -> None:
    cells = reduced(SLAB.floor, under_table(POINTS, hidden=0.7))
    under = within(cells.x_m, cells.y_m, TABLE, 0.02)
    assert np.count_nonzero(under) == 54 * 30
    assert rms(errors(SLAB, cells)[under]) < 0.0005


def test_the_floor_is_found_where_only_one_return_in_twenty_five_reaches_it() -> None:
    cells = reduced(SLAB.floor, under_table(POINTS, hidden=0.96))
    under = within(cells.x_m, cells.y_m, TABLE, 0.02)
    assert np.count_nonzero(under) > 300
    assert rms(errors(SLAB, cells)[under]) < 0.002
    assert np.median(cells.random_error_m[under]) > 3 * np.median(cells.random_error_m[~under])


@pytest.mark.parametrize("height_m", [0.015, 0.05, 0.3, 1.8])
def test_a_box_a_bag_or_a_person_on_the_floor_is_taken_out_and_counted(height_m: float) -> None:
    frame = (1.0, 1.0, 1.5, 1.4)
    cells = reduced(SLAB.floor, box(POINTS, frame, height_m))
    assert not np.any(within(cells.x_m, cells.y_m, frame, 0.02))
    assert cells.cells_cleared > 0.9 * (0.5 / 0.025) * (0.4 / 0.025)
    assert np.abs(errors(SLAB, cells)).max() < 0.0015


def test_table_legs_leave_no_height_of_their_own() -> None:
    points = POINTS.copy()
    rng = np.random.default_rng(7)
    for x, y in ((0.62, 0.62), (1.95, 0.62), (0.62, 1.35), (1.95, 1.35)):
        leg = within(points[:, 0], points[:, 1], (x, y, x + 0.06, y + 0.06))
        points[leg, 2] = 0.1 + rng.uniform(0.0, 0.72, np.count_nonzero(leg))
    cells = reduced(SLAB.floor, points)
    assert np.abs(errors(SLAB, cells)).max() < 0.003


def test_stray_returns_below_the_floor_do_not_pull_it_down() -> None:
    points = POINTS.copy()
    low = np.random.default_rng(8).random(len(points)) < 0.01
    points[low, 2] -= np.random.default_rng(9).uniform(0.02, 3.0, np.count_nonzero(low))
    cells = reduced(SLAB.floor, points)
    assert np.abs(errors(SLAB, cells)).max() < 0.002


def test_a_large_sheet_on_the_floor_is_reported_with_its_place_and_height() -> None:
    cells = reduced(SLAB.floor, box(POINTS, (1.0, 1.0, 2.2, 2.0), 0.018))
    finding = next(problem for problem in cells.problems if problem.code == "scan-patch-with-step")
    assert "1.1 m²" in finding.detail or "1.2 m²" in finding.detail
    assert "18 mm above" in finding.detail
    assert "(1.60, 1.50)" in finding.detail


def test_the_standard_error_keeps_the_scanners_bias_however_many_points_there_are() -> None:
    few, many = (reduced(SLAB.floor, scan(slab=SLAB, points=n)) for n in (150_000, 1_000_000))
    assert np.all(many.standard_error_m >= 0.0015)
    ratio = np.median(few.random_error_m) / np.median(many.random_error_m)
    assert ratio == pytest.approx(np.sqrt(1_000_000 / 150_000), rel=0.1)


def test_the_random_error_stated_is_the_error_made() -> None:
    cells = reduced(SLAB.floor, POINTS)
    standardised = errors(SLAB, cells) / cells.random_error_m
    assert rms(standardised) == pytest.approx(1.0, abs=0.08)


def test_a_scan_in_a_countrys_coordinates_loses_nothing() -> None:
    offset = np.array([432_100.0, 5_412_300.0, 812.0])
    turn = 0.7
    c, s = np.cos(turn), np.sin(turn)
    # The job's frame is turned back into the country's.
    far = POINTS @ np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]) + offset
    placement = Placement(origin_m=tuple(offset), turn_rad=turn, shift_m=(0.0, 0.0, 0.25))
    near, placed = reduced(SLAB.floor, POINTS), reduced(SLAB.floor, far, placement=placement)
    assert placed.cells_covered == near.cells_covered
    assert np.abs(placed.height_m - 0.25 - near.height_m).max() < 2e-5


def test_points_outside_the_room_are_counted_and_said() -> None:
    points = POINTS.copy()
    points[: len(points) // 4, 0] += 2 * WIDTH_M
    cells = reduced(SLAB.floor, points)
    assert (cells.points_read, cells.points_outside) == (len(points), len(points) // 4)
    assert "25%" in next(p.detail for p in cells.problems if p.code == "scan-points-outside")


def test_cells_follow_the_outline_of_a_room_with_a_corner_out_and_a_column() -> None:
    shell = ((0.0, 0.0), (3.0, 0.0), (3.0, 1.0), (1.0, 1.0), (1.0, 2.5), (0.0, 2.5))
    column = ((0.4, 0.4), (0.6, 0.4), (0.6, 0.6), (0.4, 0.6))
    cells = reduced(floor_of(shell=shell, gaps=(column,)), POINTS)
    assert cells.cells_covered == pytest.approx((3.0 + 1.5 - 0.04) / 0.025**2, rel=0.01)
    assert not np.any((cells.x_m > 1.0) & (cells.y_m > 1.0))
    assert not np.any(within(cells.x_m, cells.y_m, (0.4, 0.4, 0.6, 0.6)))


def test_the_result_does_not_depend_on_the_size_of_the_chunks() -> None:
    one, many = (reduced(SLAB.floor, POINTS, chunk=size) for size in (10_000_000, 77_777))
    np.testing.assert_array_equal(one.height_m, many.height_m)
    np.testing.assert_array_equal(one.points, many.points)


def test_in_little_memory_every_cell_keeps_a_fair_share_and_the_true_count() -> None:
    whole, thinned = reduced(SLAB.floor, POINTS), reduced(SLAB.floor, POINTS, budget_points=200_000)
    assert thinned.cells_covered > 0.99 * whole.cells_covered
    assert rms(errors(SLAB, thinned)) < 0.001
    assert thinned.points.sum() == pytest.approx(whole.points.sum(), rel=0.01)


def test_a_part_of_the_floor_alone_is_taken_and_the_rest_named() -> None:
    cells = reduced(SLAB.floor, POINTS[POINTS[:, 0] < 1.0])
    assert cells.cells_covered == pytest.approx(WIDTH_M * DEPTH_M / 3 / 0.025**2, rel=0.03)
    assert "33%" in next(p.detail for p in cells.problems if p.code == "scan-covers-part")


def refusal(points: np.ndarray, **settings: float) -> tuple[str, str]:
    with pytest.raises(InputRefused) as refused:
        reduced(SLAB.floor, points, **settings)
    (problem,) = refused.value.problems
    assert problem.severity == "refusal"
    return problem.code, problem.detail


def test_an_empty_scan_is_refused() -> None:
    assert refusal(np.empty((0, 3)))[0] == "scan-empty"


def test_a_point_that_is_not_a_number_is_named() -> None:
    points = POINTS[:1000].copy()
    points[700, 1] = np.nan
    code, detail = refusal(points, chunk=300)
    assert code == "scan-point-not-a-number"
    assert "Point 701 " in detail


@pytest.mark.parametrize(("factor", "unit"), [(1000.0, "mm"), (0.001, "km"), (1 / 0.0254, "in")])
def test_a_scan_in_another_unit_is_refused_and_the_unit_guessed(factor: float, unit: str) -> None:
    code, detail = refusal(POINTS * factor)
    assert code == "scan-unit-doubtful"
    assert f"In {unit} it would fit" in detail


def test_a_floor_a_hundred_metres_high_is_refused_for_its_unit() -> None:
    code, detail = refusal(POINTS * (1.0, 1.0, 50.0))
    assert code == "scan-unit-doubtful"
    assert "m high" in detail


def test_a_scan_beside_the_room_is_refused_with_its_middle() -> None:
    code, detail = refusal(POINTS + np.array([500.0, 0.0, 0.0]))
    assert code == "scan-outside-floor"
    assert "501.5" in detail


def test_a_scan_of_walls_alone_is_refused_as_without_floor() -> None:
    rng = np.random.default_rng(3)
    z = rng.uniform(0.0, 2.4, 200_000)
    walls = np.column_stack([rng.uniform(0, WIDTH_M, 200_000), np.full(200_000, 0.01), z])
    assert refusal(walls)[0] == "scan-without-floor"


def test_a_scan_whose_z_is_not_height_is_refused() -> None:
    tilted = POINTS.copy()
    tilted[:, 2] += 0.3 * tilted[:, 0]
    assert refusal(tilted)[0] in {"scan-not-level", "scan-without-floor"}


@pytest.mark.parametrize("cell_m", [0.0001, 50.0])
def test_cells_too_small_or_too_large_for_the_floor_are_refused(cell_m: float) -> None:
    assert refusal(POINTS[:10], cell_m=cell_m)[0] == "scan-cell-size"


def test_reduction_ends_when_it_is_told_to() -> None:
    with pytest.raises(Stopped):
        reduce_scan(
            floor=SLAB.floor,
            chunks=[POINTS],
            placement=Placement(),
            options=ScanOptions(),
            budget=Budget(stop=lambda: True),
        )


def test_cells_grow_where_the_points_are_too_few_for_small_ones() -> None:
    cells = reduced(SLAB.floor, scan(slab=SLAB, points=40_000, clutter=0.0))
    assert cells.cell_m == 0.05
    assert cells.cells_covered > 0.95 * (WIDTH_M / 0.05) * (DEPTH_M / 0.05)
    assert rms(errors(SLAB, cells)) < 0.001
    assert cells.points.sum() > 0.9 * 40_000


def test_heights_in_coarse_steps_are_averaged_over_the_steps_and_told() -> None:
    points = scan(slab=SLAB, points=400_000, noise_m=0.005, clutter=0.0)
    points[:, 2] = np.round(points[:, 2], 2)
    cells = reduced(SLAB.floor, points)
    assert "10 mm" in next(p.detail for p in cells.problems if p.code == "scan-heights-coarse")
    assert abs(float(errors(SLAB, cells).mean())) < 0.0003
    assert rms(errors(SLAB, cells)) < 0.002
    assert cells.random_error_m.min() >= 0.01 / np.sqrt(12)


def test_few_points_at_equal_heights_are_no_coarse_steps() -> None:
    points = scan(slab=SLAB, points=400_000)
    assert "scan-heights-coarse" not in {p.code for p in reduced(SLAB.floor, np.round(points, 4)).problems}
