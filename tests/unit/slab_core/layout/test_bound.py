"""The bound on waste against every way of laying small floors."""

from dataclasses import replace
from functools import cache
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.layout.bound import common_step_m, least_boards
from slab_core.layout.rows import Stretch
from slab_core.materials import starter
from slab_core.rooms.model import Obstacle
from tests.laid_floors import floor_of, laid, rectangle

COVERING = replace(starter.covering(), width_m=0.1, lengths_m=(0.5, 0.7), kerf_m=0.003)


def _stretch(length_m: float, *, height_m: float = 0.1, row: int = 1) -> Stretch:
    return Stretch(
        row=row,
        start_m=0.0,
        end_m=length_m,
        near_m=0.0,
        far_m=height_m,
        area_m2=length_m * height_m,
        shape=None,
    )


def test_stretches_of_whole_boards_need_no_kerf() -> None:
    stretches = (_stretch(1.2), _stretch(1.4), _stretch(1.0))
    assert least_boards(stretches=stretches, covering=COVERING).all_m2() == pytest.approx(0.36)


def test_two_stretches_share_one_cut() -> None:
    stretches = (_stretch(1.3), _stretch(1.1))  # no sums of 0.5 and 0.7
    # Lengths of a prime number of tenths of a millimetre leave nothing to round up to.
    fine = replace(COVERING, lengths_m=(0.5003, 0.7))
    assert least_boards(stretches=stretches, covering=fine).all_m2() == pytest.approx(0.24 + 0.0003)


def test_boards_are_bought_whole_so_their_length_is_a_multiple_of_what_divides_every_board() -> None:
    stretches = (_stretch(1.3), _stretch(1.1))  # 2.403 m with the kerf, of boards of 0.5 and 0.7
    assert common_step_m(COVERING.lengths_m) == pytest.approx(0.1)
    assert least_boards(stretches=stretches, covering=COVERING).all_m2() == pytest.approx(0.25)
    assert common_step_m((0.5, 0.70003)) == 0.0


def test_a_rip_counts_with_the_whole_width_of_its_boards() -> None:
    stretches = (_stretch(1.2, height_m=0.04),)
    assert least_boards(stretches=stretches, covering=COVERING).all_m2() == pytest.approx(0.12)


def test_a_row_notched_at_a_hearth_takes_boards_over_its_whole_length() -> None:
    notched = replace(_stretch(1.2), area_m2=0.08)
    assert least_boards(stretches=(notched,), covering=COVERING).all_m2() == pytest.approx(0.12)


UNIT_M = 0.05
KINDS = (10, 14)
LEAST = 4


@cache
def least_units(stretches: tuple[int, ...], pool: tuple[int, ...]) -> int:
    """Least length of boards for stretches, by trying every piece of every board and offcut.

    Lengths in steps of 50 mm, a kerf of one step, pieces of at least four.
    """
    if not stretches:
        return 0
    rest, others = stretches[0], stretches[1:]
    best = 10**6
    for place, source in [(None, kind) for kind in KINDS] + list(enumerate(pool)):
        bought = source if place is None else 0
        kept = pool if place is None else pool[:place] + pool[place + 1 :]
        for use in range(LEAST, min(source, rest) + 1):
            if 0 < rest - use < LEAST:
                continue
            left = source - use - 1
            after = tuple(sorted((*kept, left))) if left >= LEAST else kept
            todo = (rest - use, *others) if use < rest else others
            best = min(best, bought + least_units(todo, after))
    return best


@pytest.mark.parametrize(
    "stretches", [(20,), (13,), (24,), (10, 14), (11, 13), (9, 9), (15, 19), (4, 5, 6), (12, 12, 7)]
)
def test_every_way_of_cutting_needs_at_least_the_bound(stretches: tuple[int, ...]) -> None:
    covering = replace(COVERING, kerf_m=UNIT_M)
    bound = least_boards(stretches=tuple(_stretch(n * UNIT_M) for n in stretches), covering=covering).all_m2()
    least = least_units(stretches, ()) * UNIT_M * covering.width_m
    assert bound <= least + 1e-9
    assert least - bound <= 0.7 * covering.width_m  # a bound that is far off would prove nothing


@pytest.mark.parametrize(
    ("hearth", "lengths"),
    [
        ((0.4, 0.6, 0.15), (6, 8, 18, 18)),  # parts the first row and notches the second
        ((0.3, 0.5, 0.1), (6, 8, 18, 18)),  # parts the first row alone
        ((0.0, 0.3, 0.15), (12, 18, 18)),  # shortens the first row and notches the second
    ],
)
def test_no_way_of_cutting_rows_at_a_hearth_takes_less_than_the_bound(
    hearth: tuple[float, float, float], lengths: tuple[int, ...]
) -> None:
    left, right, depth = hearth
    obstacle = Obstacle(id="h", kind="hearth", outline=rectangle(left, 0, right, depth))
    covering = replace(
        COVERING, kerf_m=UNIT_M, direction_deg=0.0, expansion_gap_m=0.0, stagger_m=0.05, least_piece_m=0.2
    )
    layout = laid(floor_of(rectangle(0, 0, 0.9, 0.3), obstacles=(obstacle,)), covering=covering)
    units = tuple(round((run.end_m - run.start_m) / UNIT_M) for run in layout.runs)
    assert tuple(sorted(units)) == lengths
    bound_m2 = layout.covered_m2 / (1.0 - layout.waste_bound_share)
    least_m2 = min(least_units(order, ()) for order in set(permutations(units))) * UNIT_M * covering.width_m
    assert bound_m2 <= least_m2 + 1e-9
    assert least_m2 <= layout.bought_m2 + 1e-9
    assert least_m2 - bound_m2 <= 0.5 * covering.width_m


@settings(max_examples=20, deadline=None)
@given(st.floats(1.0, 5.0), st.floats(1.0, 5.0), st.integers(0, 5))
def test_what_is_laid_never_wastes_less_than_the_bound(width: float, height: float, seed: int) -> None:
    layout = laid(floor_of(rectangle(0, 0, width, height)), seed=seed)
    assert layout.waste_bound_share <= layout.waste_share + 1e-9
    assert 0.0 <= layout.waste_bound_share < 1.0
