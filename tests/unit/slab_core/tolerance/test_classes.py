"""Flatness classes against the values that public copies print."""

from slab_core.tolerance.classes import BY_CODE, CLASSES


def test_every_class_has_its_own_code_a_source_and_rules() -> None:
    assert len(BY_CODE) == len(CLASSES)
    for one in CLASSES:
        assert one.source
        assert one.rules
        for rule in one.rules:
            assert rule.of_class is not None
            assert (rule.of_class.code, rule.of_class.source) == (one.code, one.source)
            assert rule.of_class.seen == one.seen
        assert all(rule.length_m > 0.0 and rule.gap_m > 0.0 for rule in one.rules)
