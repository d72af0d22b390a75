"""Columns come back equal bit for bit, whatever they hold, and what an instrument shows takes less room."""

import json
import struct
import zlib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from slab_app.columns import pack_arrays, unpack_arrays
from slab_core.numerics.grid import Floats
from slab_core.units.lengths import METRES_PER

ROWS = 5_000
"""Enough for a column to be looked at for its step."""


def _is_back(column: np.ndarray) -> None:
    (back,) = unpack_arrays(pack_arrays([column]))
    assert (back.dtype, back.shape) == (column.dtype, column.shape)
    assert back.tobytes() == column.tobytes()
    assert not back.flags.writeable


def _readings(*, unit: str, digits: int, seed: int = 1) -> Floats:
    """Numbers with this many decimals as a client writes them, in metres."""
    shown = np.round(np.random.default_rng(seed).normal(0, 20, ROWS), digits)
    return np.asarray(shown * METRES_PER[unit] + 0.0)  # type: ignore[index]  # a name from the parameters below


@pytest.mark.parametrize("unit", METRES_PER)
@pytest.mark.parametrize("digits", range(6))
def test_numbers_of_every_unit_and_precision_come_back_in_half_the_room(unit: str, digits: int) -> None:
    column = _readings(unit=unit, digits=digits)
    _is_back(column)
    assert len(pack_arrays([column])) < column.nbytes / 2


@given(
    arrays.arrays(
        st.sampled_from([np.float64, np.float32, np.int32, np.int64, np.uint8, np.bool_]),
        arrays.array_shapes(max_dims=3, max_side=6, min_side=0),
    )
)
def test_arrays_of_every_kind_and_shape_come_back(array: np.ndarray) -> None:
    _is_back(array)


ODD = [-0.0, np.nan, -np.nan, np.inf, -np.inf, 5e-324, 1e300, np.nextafter(1.0, 2.0), 4294967.296, 1 / 3]


@pytest.mark.parametrize("value", ODD)
@pytest.mark.parametrize("row", [0, ROWS - 1])
def test_one_odd_number_among_whole_steps_comes_back(value: float, row: int) -> None:
    column = _readings(unit="m", digits=3)
    column[row] = value
    _is_back(column)


@pytest.mark.parametrize("value", ODD)
def test_a_long_column_of_one_number_comes_back(value: float) -> None:
    _is_back(np.full(ROWS, value))


def test_numbers_without_a_step_come_back() -> None:
    _is_back(np.random.default_rng(1).normal(0, 1, (2, ROWS)))


def test_long_columns_come_back_in_the_order_and_shape_they_had() -> None:
    columns = [_readings(unit="ft", digits=2, seed=seed) for seed in range(3)]
    columns.insert(1, np.arange(ROWS).reshape(2, -1).T.astype(np.float64))
    for back, column in zip(unpack_arrays(pack_arrays(columns)), columns, strict=True):
        assert back.shape == column.shape
        assert np.array_equal(back, column)


def test_columns_stored_before_steps_were_told_are_read() -> None:
    column = _readings(unit="m", digits=3)
    blob = zlib.compress(column.tobytes(), 1)
    head = json.dumps([["<f8", [ROWS], len(blob)]]).encode()
    (back,) = unpack_arrays(struct.pack("<I", len(head)) + head + blob)
    assert back.tobytes() == column.tobytes()
