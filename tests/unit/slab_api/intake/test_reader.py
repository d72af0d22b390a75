"""Lengths in the units of the document."""

import math

import numpy as np
import pytest

from slab_api.intake.reader import MOST_ROWS, Reader
from slab_api.schemas.units import UnitsDocument


def test_bare_numbers_are_in_the_documents_units_and_texts_in_their_own() -> None:
    reader = Reader(units=UnitsDocument(length="ft", height="in"))
    assert reader.length(2, ("a",)) == 2 * 0.3048
    assert reader.length(2, ("a",), vertical=True) == 2 * 0.0254
    assert reader.length("12' 3-5/8\"", ("a",)) == pytest.approx(147.625 * 0.0254, abs=1e-12)
    assert reader.length("250 mm", ("a",), vertical=True) == 0.25
    assert reader.faults == []


def test_heights_are_in_the_unit_of_the_plan_if_no_other_is_named() -> None:
    assert Reader(units=UnitsDocument(length="cm")).length(3, (), vertical=True) == 0.03


def test_a_column_of_numbers_equals_its_values_read_one_by_one() -> None:
    reader = Reader(units=UnitsDocument(length="ft"))
    values = [0, 1.5, 12.3, -4, "3 ft"]
    one_by_one = [reader.length(value, ()) for value in values]
    np.testing.assert_allclose(reader.column(values, ("x",)), one_by_one, rtol=1e-15)
    np.testing.assert_allclose(reader.column(values[:4], ("x",)), one_by_one[:4], rtol=1e-15)


def test_a_zero_has_no_sign_however_it_was_written() -> None:
    column = Reader(units=UnitsDocument(length="ft")).column([-0.0, 0, 1.0], ("x",))
    assert not np.signbit(column).any()


def test_every_wrong_row_is_named_up_to_a_number() -> None:
    reader = Reader(units=UnitsDocument(length="m"))
    column = reader.column([1.0, "x", 2.0, True, None, 10**400, {}, [1]], ("x",))
    assert [fault.pointer for fault in reader.faults] == ["/x/1", "/x/3", "/x/4", "/x/5", "/x/6", "/x/7"]
    assert column[0] == 1.0
    assert math.isnan(column[1])
    reader = Reader(units=UnitsDocument(length="m"))
    reader.column(["x"] * 1000, ("x",))
    assert len(reader.faults) == MOST_ROWS


def test_an_unknown_unit_is_named_once_and_not_for_every_number() -> None:
    reader = Reader(units=UnitsDocument(length="cubits"))
    assert math.isnan(reader.length(1, ("a",)))
    assert math.isnan(reader.length("1", ("b",)))
    reader.column([1, 2, 3], ("c",))
    assert [fault.pointer for fault in reader.faults] == ["/units/length"]


@pytest.mark.parametrize("value", [0, -1, "-2 in"])
def test_a_length_that_must_be_more_than_nothing_is(value: float | str) -> None:
    reader = Reader(units=UnitsDocument(length="in"))
    reader.positive(value, ("gap",))
    assert [fault.pointer for fault in reader.faults] == ["/gap"]
