"""Points as lines of text."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from slab_files.importers import text
from slab_files.importers.kinds import open_points
from tests.unit.slab_files.importers.written import read, refusal, some_points

FINITE = st.floats(-1e7, 1e7, allow_nan=False)


def write(path: Path, lines: str) -> Path:
    path.write_text(lines)
    return path


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    points=arrays(np.float64, st.tuples(st.integers(1, 20), st.just(3)), elements=FINITE),
    sign=st.sampled_from([" ", ",", ";", "\t", "  "]),
    more=st.booleans(),
)
def test_what_was_written_is_read_to_the_last_bit(
    points: np.ndarray, sign: str, more: bool, tmp_path: Path
) -> None:
    tail = f"{sign}17{sign}200" if more else ""
    lines = [sign.join(repr(float(value)) for value in row) + tail for row in points]
    np.testing.assert_array_equal(read(write(tmp_path / "a.xyz", "\n".join(lines))), points)


@pytest.mark.parametrize(
    "lines",
    [
        "1 2 3\n4 5 6\n",
        "# made up\n\n1 2 3\n\n// more\n4 5 6",
        "x,y,z\n1,2,3\n4,5,6\n",
        "z;name;y;x\n3;a;2;1\n6;b;5;4\n",
        "X [m] Y\tZ\n1 2 3\n4 5 6\n".replace(" [m]", "_[m]"),
        "2\n1 2 3 0 0 0\n4 5 6 0 0 0\n",
        "\ufeffx y z\r\n1 2 3\r\n4 5 6\r\n",
        "left right up\n1 2 3\n4 5 6\n",
    ],
)
def test_usual_ways_to_write_points_are_understood(lines: str, tmp_path: Path) -> None:
    np.testing.assert_array_equal(read(write(tmp_path / "a.txt", lines)), [[1, 2, 3], [4, 5, 6]])


def test_a_file_larger_than_a_block_is_read_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(text, "CHUNK_BYTES", 1000)
    points = some_points(500)
    np.savetxt(tmp_path / "a.xyz", points, fmt="%.4f")
    assert len(list(open_points(path=tmp_path / "a.xyz").chunks())) > 10
    np.testing.assert_array_equal(read(tmp_path / "a.xyz"), points)


def test_a_bad_line_is_named_also_after_blocks_and_comments(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(text, "CHUNK_BYTES", 1000)
    lines = ["x y z", "# a", *["1.5 2.5 3.5"] * 700, "1.5 oops 3.5", *["1 2 3"] * 100]
    code, detail = refusal(write(tmp_path / "a.xyz", "\n".join(lines)))
    assert code == "scan-file-malformed"
    assert "Line 703 " in detail
    assert "oops" in detail


@pytest.mark.parametrize(
    ("lines", "code", "words"),
    [
        ("1 2 3\n4 nan 6\n", "scan-file-not-a-number", "Point 2 "),
        ("1 2 3\n4 inf 6\n", "scan-file-not-a-number", "Point 2 "),
        ("1 2 3\n4 5\n", "scan-file-malformed", "Line 2 "),
        ("1,5;2,5;3,5\n1,5;2,5;3,6\n", "scan-file-malformed", "point"),
        ("# nothing\n\n", "scan-file-empty", "no line"),
        ("x y z\n", "scan-file-empty", "no line"),
        ("x y\n1 2 3\n", "scan-file-malformed", "lack z"),
        ("5\n1 2 3\n4 5 6\n", "scan-file-truncated", "states 5 points and holds 2"),
        ("1\n1 2 3\n4 5 6\n", "scan-file-malformed", "states 1 points, and the file holds 2"),
        ("1 2 3\n" + "7" * 5000, "scan-file-malformed", ""),
        ("a b c\nd e f\n1 2 3\n", "scan-file-malformed", "Line 2 "),
    ],
)
def test_bad_text_is_refused_with_the_place(lines: str, code: str, words: str, tmp_path: Path) -> None:
    got, detail = refusal(write(tmp_path / "a.xyz", lines))
    assert got == code
    assert words in detail
