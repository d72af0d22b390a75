"""Columns of an Arrow stream are the numbers that were sent, of whatever type, in however many batches."""

from io import BytesIO

import nanoarrow
import numpy as np
from nanoarrow.ipc import StreamWriter

from slab_api.bodies.arrow import read_columns


def _stream(*batches: dict[str, list[float]]) -> bytes:
    out = BytesIO()
    with StreamWriter.from_writable(out) as writer:
        for columns in batches:
            kinds = {name: nanoarrow.int32() if name == "x" else nanoarrow.float64() for name in columns}
            arrays = [nanoarrow.c_array(values, kinds[name]) for name, values in columns.items()]
            writer.write_array(
                nanoarrow.c_array_from_buffers(
                    nanoarrow.struct(kinds), length=len(columns["x"]), buffers=[None], children=arrays
                )
            )
    return out.getvalue()


def test_whole_numbers_and_fractions_come_as_doubles_and_a_zero_has_no_sign() -> None:
    columns, setups = read_columns(_stream({"x": [1, 2], "y": [0.1, 0.2], "elevation": [-0.0, -0.003]}))
    assert setups is None
    assert {name: column.tolist() for name, column in columns.items()} == {
        "x": [1.0, 2.0],
        "y": [0.1, 0.2],
        "elevation": [0.0, -0.003],
    }
    assert {column.dtype for column in columns.values()} == {np.dtype(np.float64)}
    assert np.signbit(columns["elevation"]).tolist() == [False, True]


def test_batches_follow_each_other() -> None:
    first, second = ({"x": [n], "y": [n / 2], "elevation": [n / 4]} for n in (1, 2))
    columns, _ = read_columns(_stream(first, second))
    assert {name: column.tolist() for name, column in columns.items()} == {
        "x": [1.0, 2.0],
        "y": [0.5, 1.0],
        "elevation": [0.25, 0.5],
    }
