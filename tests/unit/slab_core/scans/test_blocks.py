"""Cells joined into squares."""

import numpy as np

from slab_core.scans.blocks import joined_cells
from tests.unit.slab_core.scans.scanned import a_slab, errors, reduced, rms, scan

SLAB = a_slab()
CELLS = reduced(SLAB.floor, scan(slab=SLAB))


def test_squares_are_few_and_keep_the_floors_height() -> None:
    blocks = joined_cells(cells=CELLS, most=1000)
    assert 700 < len(blocks.x_m) <= 1200
    assert blocks.points.sum() == CELLS.points.sum()
    assert rms(errors(SLAB, blocks)) < 0.0002


def test_the_random_error_averages_down_and_the_bias_does_not() -> None:
    blocks = joined_cells(cells=CELLS, most=1000)
    across = round(blocks.cell_m / CELLS.cell_m)
    ratio = np.median(CELLS.random_error_m) / np.median(blocks.random_error_m)
    assert 0.8 * across < ratio < 1.2 * across
    np.testing.assert_allclose(blocks.standard_error_m, 0.0015, atol=2e-5)


def test_squares_of_two_scans_lie_alike_and_few_cells_are_left_as_they_are() -> None:
    part = scan(slab=SLAB, seed=3)
    other = reduced(SLAB.floor, part[part[:, 0] > 1.1])
    one, two = (joined_cells(cells=cells, most=1000) for cells in (CELLS, other))
    places = [
        set(zip(*(np.floor(v / b.cell_m).tolist() for v in (b.x_m, b.y_m)), strict=True)) for b in (one, two)
    ]
    assert places[1] <= places[0]
    assert joined_cells(cells=CELLS, most=100_000) is CELLS


def test_heights_far_above_the_origin_are_as_exact_as_others() -> None:
    points = scan(slab=SLAB) + np.array([0.0, 0.0, 4000.0])
    high = reduced(SLAB.floor, points)
    assert np.abs(high.height_m - 4000.0 - CELLS.height_m).max() < 2e-5
