"""DIN 18202 table 3 against the gaps that secondary pages print, and the edges that a floor has room for."""

import numpy as np
import pytest

from slab_core.numerics.budget import Budget
from slab_core.tolerance.classes import BY_CODE
from slab_core.tolerance.din_18202 import TABLE_LENGTHS_M, TABLE_MM, gap_m, that_fit
from slab_core.tolerance.model import Rule, ToleranceReport, ToleranceSpec
from slab_core.tolerance.report import report
from tests.slabs import Height, rectangle
from tests.surfaces import known_surface

LENGTHS_M = (0.1, 0.6, 1, 1.5, 2, 2.5, 3, 3.5, 4, 6, 8, 10, 15)
FINISHED = BY_CODE["din-18202-row-3"].rules


@pytest.mark.parametrize(
    ("row", "gaps_mm"),
    # DIN 18202: printed at these lengths in three secondary pages (row 2 at 3.5 m as 12).
    [
        (2, (5, 7, 8, 9, 9, 10, 11, 11, 12, 13, 14, 15, 20)),
        (3, (2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 11, 12, 15)),
        (4, (1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 15)),
    ],
)
def test_gaps_between_the_tables_lengths_are_the_printed_ones(row: int, gaps_mm: tuple[int, ...]) -> None:
    found = tuple(round(gap_m(row=row, length_m=length) * 1000, 6) for length in LENGTHS_M)
    assert found == gaps_mm


def test_no_gap_is_made_up_beyond_the_table() -> None:
    for length in (0.05, 16.0):
        with pytest.raises(ValueError, match=r"0\.1 to 15"):
            gap_m(row=3, length_m=length)


@pytest.mark.parametrize("row", [3, 4])
def test_a_round_dip_of_any_width_to_4_m_escapes_by_no_more_than_is_said(row: int) -> None:
    # Under an edge of L a parabola of width w and depth d gapes d·min(1, L/w)².
    rules = BY_CODE[f"din-18202-row-{row}"].rules
    for width_m in np.arange(0.6, 4.001, 0.01):
        deepest_m = min(rule.gap_m / min(1.0, rule.length_m / width_m) ** 2 for rule in rules)
        allowed_mm = np.interp(width_m, TABLE_LENGTHS_M, TABLE_MM[row])
        assert 1e3 * deepest_m <= allowed_mm + 1.6


def test_a_room_shorter_than_an_edge_has_the_gap_of_the_longest_that_fits() -> None:
    # 2 + (4 - 2)·(0.9 - 0.1)/(1 - 0.1) = 3.8, 4 mm in whole ones.
    found = that_fit(FINISHED, longest_m=0.9)
    assert [(rule.length_m, rule.gap_m) for rule in found] == [(0.6, 0.003), (0.9, 0.004)]


def test_of_edges_with_the_same_gap_the_longest_is_laid() -> None:
    # At 4 and 4.2 m row 3 allows 10 mm.
    found = that_fit(FINISHED, longest_m=4.2)
    assert [(rule.length_m, round(1e3 * rule.gap_m)) for rule in found] == [
        (0.6, 3),
        (1.0, 4),
        (2.0, 6),
        (3.0, 8),
        (4.2, 10),
    ]


def test_rules_without_the_table_and_other_rows_are_left_as_they_are() -> None:
    own = Rule(length_m=3.048, gap_m=0.005)
    higher = BY_CODE["din-18202-row-4"].rules
    found = that_fit((own, own, *FINISHED, *higher), longest_m=0.5)
    assert [(rule.length_m, rule.gap_m) for rule in found] == [
        (3.048, 0.005),
        (3.048, 0.005),
        (0.5, 0.003),
        (0.5, 0.002),
    ]
    assert [rule.of_class and rule.of_class.code for rule in found[2:]] == [
        "din-18202-row-3",
        "din-18202-row-4",
    ]


def _report(height: Height, *, width_m: float, depth_m: float) -> ToleranceReport:
    floor = rectangle(width_m, depth_m)
    return report(
        floor=floor,
        surface=known_surface(floor=floor, height=height),
        profiles=(),
        spec=ToleranceSpec(rules=FINISHED),
        budget=Budget(),
    )


def test_a_trough_too_deep_for_its_width_fails_though_the_edges_of_1_and_4_m_pass_it() -> None:
    trough: Height = lambda x, y: np.asarray(-0.008 * np.maximum(0.0, 1.0 - (x - 3.0) ** 2) + 0.0 * y)  # noqa: E731  # a shape
    found = _report(trough, width_m=6.0, depth_m=4.0)
    failing = {rule.rule.length_m for rule in found.rules if not rule.passes}
    assert 2.0 in failing
    assert failing.isdisjoint({1.0, 4.0})
    assert found.verdict == "fail"


def test_a_closet_is_not_judged_by_the_gap_of_an_edge_that_it_has_no_room_for() -> None:
    dish: Height = lambda x, y: np.asarray(0.006 * ((x - 0.45) / 0.45) ** 2 + 0.0 * y)  # noqa: E731  # a shape
    found = _report(dish, width_m=0.9, depth_m=0.7)
    assert not found.passes
    assert all(rule.used_length_m == rule.rule.length_m for rule in found.rules)
    assert max(rule.rule.gap_m for rule in found.rules) <= 0.005
    assert "straightedge-longer-than-room" not in {problem.code for problem in found.problems}
