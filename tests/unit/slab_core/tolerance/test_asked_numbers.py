"""When measured lines show F-numbers to be met."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.surveys.model import Profile
from slab_core.tolerance.asked_numbers import numbers_answer
from slab_core.tolerance.f_numbers import f_numbers
from slab_core.tolerance.model import FNumbers, ToleranceSpec

AREA_M2, WIDTH_M = 42.0, 6.0
"""452 ft², of which a full test takes 43 differences over 10 ft."""


def _numbers(*waves_m: float, readings: int = 20) -> FNumbers:
    """Of lines whose readings go up and down by so much."""
    lines = tuple(
        Profile(
            id=f"L{k}",
            start=(1.0 + k, 0.5),
            end=(1.0 + k, 6.5),
            spacing_m=0.3048,
            height_m=wave * np.sin(1.7 * np.arange(float(readings)) + k),
        )
        for k, wave in enumerate(waves_m)
    )
    found, _ = f_numbers(profiles=lines, area_m2=AREA_M2, width_m=WIDTH_M)
    assert found is not None
    return found


def _answer(numbers: FNumbers, ff: float, fl: float = 5.0) -> tuple[str | None, list[str]]:
    verdict, problems = numbers_answer(numbers=numbers, spec=ToleranceSpec(rules=(), f_numbers=(ff, fl)))
    return verdict, [problem.code for problem in problems]


def test_a_full_test_whose_limits_keep_clear_of_what_is_asked_passes_or_fails() -> None:
    numbers = _numbers(0.001, 0.0011, 0.0009, 0.001, 0.001)
    assert numbers.shortcomings == ()
    assert numbers.ff_interval is not None
    low, high = numbers.ff_interval
    assert _answer(numbers, 0.9 * low) == ("pass", [])
    assert _answer(numbers, 1.1 * high) == ("fail", ["f-numbers-not-met"])


def test_limits_that_hold_what_is_asked_neither_pass_nor_fail() -> None:
    numbers = _numbers(0.0005, 0.003, 0.0006, 0.002, 0.001)
    assert numbers.ff_interval is not None
    low, high = numbers.ff_interval
    assert _answer(numbers, (low + numbers.ff) / 2) == ("measure-more", ["f-numbers-not-proven"])
    over = (numbers.ff + high) / 2
    assert _answer(numbers, over) == ("measure-more", ["f-numbers-not-met", "f-numbers-not-proven"])


@pytest.mark.parametrize("readings", [12, 16])
def test_lines_below_the_minimum_section_neither_pass_nor_fail(readings: int) -> None:
    numbers = _numbers(0.001, 0.0011, 0.0009, 0.001, 0.001, readings=readings)
    assert numbers.shortcomings
    for ff in (1.0, 500.0):
        assert _answer(numbers, ff)[0] == "measure-more"
    _, (problem,) = numbers_answer(numbers=numbers, spec=ToleranceSpec(rules=(), f_numbers=(1.0, 1.0)))
    assert numbers.shortcomings[0] in problem.detail


def test_fewer_than_four_lines_do_not_tell_how_sure_they_are() -> None:
    numbers = _numbers(0.001, 0.001, 0.001, readings=30)
    assert numbers.shortcomings == ()
    assert _answer(numbers, 1.0) == ("measure-more", ["f-numbers-not-proven"])


def test_numbers_that_were_not_measured_are_left_open() -> None:
    guess = replace(_numbers(0.001), estimated=True)
    assert _answer(guess, 1.0) == ("measure-more", ["f-numbers-not-measured"])
    assert numbers_answer(numbers=guess, spec=ToleranceSpec(rules=())) == (None, ())


def test_lines_without_any_wave_are_named_beside_their_infinite_numbers() -> None:
    numbers = _numbers(0.001, 0.0)
    assert any("L1" in note and "infinite" in note for note in numbers.notes)
    assert not any("L0" in note for note in numbers.notes)
