"""Accuracies stay within what practice finds."""

from slab_core.surveys.instruments import INSTRUMENTS, POSITIONS, SOURCE


def test_every_accuracy_lies_within_its_own_range_and_is_marked_as_practice() -> None:
    for accuracy in (*INSTRUMENTS.values(), *POSITIONS.values()):
        assert 0 < accuracy.low_m <= accuracy.sd_m <= accuracy.high_m
    assert "common practice" in SOURCE


def test_a_laser_is_rougher_than_a_level_and_a_landmark_than_a_grid() -> None:
    order = [
        INSTRUMENTS[name].sd_m for name in ("digital-level", "optical-level", "line-laser", "rotary-laser")
    ]
    assert order == sorted(order)
    assert POSITIONS["grid"].sd_m == 0.0508
    assert POSITIONS["landmark"].sd_m > POSITIONS["grid"].sd_m
