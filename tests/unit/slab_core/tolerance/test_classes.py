"""Flatness classes against the values that public copies print."""

import pytest

from slab_core.tolerance.classes import BY_CODE, CLASSES


def test_every_class_has_its_own_code_a_source_and_rules() -> None:
    assert len(BY_CODE) == len(CLASSES)
    for one in CLASSES:
        assert one.source
        assert one.rules or one.f_numbers
        for rule in one.rules:
            assert rule.of_class is not None
            assert (rule.of_class.code, rule.of_class.source) == (one.code, one.source)
            assert rule.of_class.seen == one.seen
        assert all(rule.length_m > 0.0 and rule.gap_m > 0.0 for rule in one.rules)


def test_concrete_by_f_numbers_has_the_printed_pairs_and_three_fifths_of_them_locally() -> None:
    # ACI 117-10, table 4.8.5.1 and section 4.8.5.3, read in a public copy.
    printed = {
        "conventional": (20, 15),
        "moderately-flat": (25, 20),
        "flat": (35, 25),
        "very-flat": (45, 35),
        "super-flat": (60, 40),
    }
    for name, pair in printed.items():
        one = BY_CODE[f"concrete-{name}-f-numbers"]
        assert one.f_numbers is not None
        assert one.f_numbers.whole == pair
        assert one.f_numbers.local == pytest.approx((0.6 * pair[0], 0.6 * pair[1]))
        assert (one.f_numbers.of_class.code, one.f_numbers.of_class.seen) == (one.code, "read")
