"""Blocks of pages: no point is lost or doubled on its way through them."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.numerics.grid import Ints
from slab_core.scans.gather_kernels import PAGE, Singles, assign, count, scatter
from slab_core.scans.pages import MOST_GROUPS, Block, group_shift

WIDE, DEEP = 40, 30
CELLS = WIDE * DEEP


def _filled(points: np.ndarray, room: int) -> tuple[list[Block], Ints]:
    """All points put away, in as many blocks as that takes, and how many came to each cell."""
    arrived = np.zeros(CELLS, np.int32)
    frame = np.array([0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0])
    extent = np.repeat([1e300, -1e300], 3)
    cell, height = np.empty(4096, np.int32), np.empty(4096, np.float32)
    blocks = [Block.for_points(room, cells=CELLS)]
    while len(points):
        block = blocks[-1]
        taken, block.pages, outside, bad = assign(
            points,
            frame,
            (WIDE, DEEP),
            arrived,
            np.zeros(CELLS, np.int32),
            False,
            group_shift(CELLS),
            extent,
            cell,
            height,
            height.view(np.int32),
            block.records,
            block.at,
            block.owner,
            block.pages,
        )
        assert (outside, bad) == (0, -1)
        points = points[taken:]
        if not taken:
            blocks.append(Block.for_points(room, cells=CELLS))
    return blocks, arrived


def _by_cell(blocks: list[Block]) -> tuple[Singles, Ints]:
    counts = np.zeros(CELLS, np.int32)
    for block in blocks:
        count(block.records, *block.by_group(), counts)
    starts = np.concatenate([[0], np.cumsum(counts)]).astype(np.int32)
    place, heights = starts[:-1].copy(), np.empty(int(starts[-1]), np.float32)
    for block in blocks:
        scatter(block.records, *block.by_group(), place, heights.view(np.int32))
    return heights, starts


def _points(seed: int, many: int, crowded: bool) -> np.ndarray:
    rng = np.random.default_rng(seed)
    reach = 0.1 if crowded else 1.0
    return np.column_stack(
        [rng.uniform(0, WIDE * reach, many), rng.uniform(0, DEEP * reach, many), rng.normal(0, 1, many)]
    )


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10**6), many=st.integers(1, 30_000), crowded=st.booleans())
def test_every_height_comes_back_in_its_cell_in_the_order_in_which_it_came(
    seed: int, many: int, crowded: bool
) -> None:
    points = _points(seed, many, crowded)
    heights, starts = _by_cell(_filled(points, 5_000)[0])
    cell = points[:, 1].astype(int) * WIDE + points[:, 0].astype(int)
    order = np.argsort(cell, kind="stable")
    assert np.array_equal(np.diff(starts), np.bincount(cell, minlength=CELLS))
    assert np.array_equal(heights, points[order, 2].astype(np.float32))


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10**6), many=st.integers(1, 20_000))
def test_thinning_keeps_every_second_height_of_the_cells_it_drops_from_and_all_of_the_others(
    seed: int, many: int
) -> None:
    points = _points(seed, many, crowded=True)
    blocks, _ = _filled(points, 3_000)
    heights, starts = _by_cell(blocks)
    drop = (np.arange(CELLS) % 3 == 0).astype(np.int32)
    seen = np.zeros(CELLS, np.int32)
    left, where = _by_cell([block.thinned(drop=drop, seen=seen) for block in blocks])
    for k in np.flatnonzero(np.diff(starts)):
        had = heights[starts[k] : starts[k + 1]]
        assert np.array_equal(left[where[k] : where[k + 1]], had[::2] if drop[k] else had)


def test_a_thinned_block_has_no_room_for_more_so_that_the_next_points_begin_another() -> None:
    blocks, _ = _filled(_points(1, 4_000, crowded=False), 4_000)
    kept = blocks[0].thinned(drop=np.ones(CELLS, np.int32), seen=np.zeros(CELLS, np.int32))
    assert len(kept.owner) == kept.pages
    assert len(kept.records) == kept.pages * PAGE
    assert kept.points() == sum((n + 1) // 2 for n in _filled(_points(1, 4_000, crowded=False), 4_000)[1])


@pytest.mark.parametrize("cells", [1, 2, MOST_GROUPS, MOST_GROUPS + 1, 56_000, 20_000_000])
def test_groups_of_cells_are_few_however_many_cells_there_are(cells: int) -> None:
    groups = ((cells - 1) >> group_shift(cells)) + 1
    assert min(cells, MOST_GROUPS) / 2 <= groups <= MOST_GROUPS
