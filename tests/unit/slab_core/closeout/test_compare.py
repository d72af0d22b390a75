"""Actuals beside a quote."""

import pytest

from slab_core.closeout.compare import compare
from slab_core.closeout.model import Actual, Comparison, EstimatedLine
from slab_core.errors import InputRefused

CLEAN = EstimatedLine(key="clean/den/1/-", code="clean", kind="labour", what="Clean", quantity=4.0, unit="PH")
BAGS = EstimatedLine(
    key="compound/den/1/levelling-compound", code="compound", kind="material", what="Compound",
    quantity=14.0, unit="bag",
)  # fmt: skip
PINS = EstimatedLine(key="pins/den/1/-", code="pins", kind="labour", what="Pins", quantity=2.0, unit="PH")


def _compare(*actuals: tuple[str, float]) -> Comparison:
    given = tuple(Actual(key=key, quantity=quantity) for key, quantity in actuals)
    return compare(estimated=(CLEAN, BAGS, PINS), actuals=given, noise_sd=0.17)


def test_each_line_has_its_ratio_and_units_their_totals() -> None:
    found = _compare((CLEAN.key, 5.0), (BAGS.key, 13.0), (PINS.key, 1.5))
    assert [line.ratio for line in found.lines] == [1.25, 13 / 14, 0.75]
    assert [(t.unit, t.estimated, t.actual) for t in found.totals] == [("PH", 6.0, 6.5), ("bag", 14.0, 13.0)]
    assert found.unreported == ()


def test_lines_that_nobody_told_of_are_listed() -> None:
    assert _compare((CLEAN.key, 5.0)).unreported == (BAGS.key, PINS.key)


def test_an_absurd_entry_is_marked_and_kept() -> None:
    found = _compare((CLEAN.key, 50.0), (PINS.key, 2.1))
    assert [line.absurd for line in found.lines] == [True, False]
    assert found.lines[0].actual == 50.0


def test_unknown_repeated_and_impossible_entries_are_all_named_at_once() -> None:
    with pytest.raises(InputRefused) as refused:
        _compare(("paint/den/1/-", 1.0), (CLEAN.key, 4.0), (CLEAN.key, 2.0), (PINS.key, 0.0))
    assert [(p.code, p.pointer) for p in refused.value.problems] == [
        ("actual-unknown-line", "/actuals/0/key"),
        ("actual-repeated", "/actuals/2/key"),
        ("actual-not-a-quantity", "/actuals/3/quantity"),
    ]
