"""Flatness classes against the values that public copies print."""

import pytest

from slab_core.tolerance.classes import BY_CODE, CLASSES, din_18202_gap_m


def test_every_class_has_its_own_code_a_source_and_rules() -> None:
    assert len(BY_CODE) == len(CLASSES)
    for one in CLASSES:
        assert one.source
        assert one.rules
        assert all(rule.length_m > 0.0 and rule.gap_m > 0.0 for rule in one.rules)


LENGTHS_M = (0.1, 0.6, 1, 1.5, 2, 2.5, 3, 3.5, 4, 6, 8, 10, 15)


@pytest.mark.parametrize(
    ("row", "gaps_mm"),
    # DIN 18202: printed at these lengths in three secondary pages.
    [
        (3, (2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 11, 12, 15)),
        (4, (1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 15)),
    ],
)
def test_gaps_between_the_tables_lengths_are_the_printed_ones(row: int, gaps_mm: tuple[int, ...]) -> None:
    found = tuple(round(din_18202_gap_m(row=row, length_m=length) * 1000, 6) for length in LENGTHS_M)
    assert found == gaps_mm


def test_no_gap_is_made_up_beyond_the_table() -> None:
    for length in (0.05, 16.0):
        with pytest.raises(ValueError, match=r"0\.1 to 15"):
            din_18202_gap_m(row=3, length_m=length)
