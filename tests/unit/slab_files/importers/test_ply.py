"""Vertices of PLY files."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from slab_files.importers import ply
from tests.unit.slab_files.importers.written import read, refusal, some_points, write_ply

FORMS = ["ascii", "binary_little_endian", "binary_big_endian"]


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    points=arrays(
        np.float64,
        st.tuples(st.integers(1, 20), st.just(3)),
        elements=st.floats(-1e6, 1e6, width=32),
    ),
    form=st.sampled_from(FORMS),
    kind=st.sampled_from(["float", "double"]),
    extra=st.booleans(),
)
def test_what_was_written_is_read_to_the_last_bit(
    points: np.ndarray, form: str, kind: str, extra: bool, tmp_path: Path
) -> None:
    path = write_ply(tmp_path / "a.ply", points, form=form, kind=kind, extra=extra)
    np.testing.assert_array_equal(read(path), points)


@pytest.mark.parametrize("form", FORMS)
def test_a_file_is_read_in_pieces(form: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ply, "CHUNK_BYTES", 1000)
    monkeypatch.setattr(ply, "TEXT_ROWS", 70)
    points = some_points(1000)
    np.testing.assert_array_equal(read(write_ply(tmp_path / "a.ply", points, form=form)), points)


@pytest.mark.parametrize("form", FORMS)
def test_a_file_cut_short_is_refused(form: str, tmp_path: Path) -> None:
    path = write_ply(tmp_path / "a.ply", some_points(100), form=form, extra=False)
    path.write_bytes(path.read_bytes()[:-400])
    code, detail = refusal(path)
    assert code in {"scan-file-truncated", "scan-file-malformed"}
    assert "100" in detail or "Vertex" in detail


@pytest.mark.parametrize("extra", [False, True])
@pytest.mark.parametrize("form", FORMS)
def test_vertices_that_the_header_does_not_count_are_not_left_out_in_silence(
    form: str, extra: bool, tmp_path: Path
) -> None:
    path = write_ply(tmp_path / "a.ply", some_points(100), form=form, extra=extra)
    path.write_bytes(path.read_bytes().replace(b"element vertex 100\n", b"element vertex 90\n"))
    code, detail = refusal(path)
    assert "states 90 vertices" in detail
    if form == "ascii" or not extra:
        assert code == "scan-file-malformed"
        assert "the file holds 100" in detail
    else:  # the vertices that are not counted are taken for the faces, and do not fit as such
        assert code in {"scan-file-malformed", "scan-file-truncated"}


@pytest.mark.parametrize("form", FORMS)
def test_fewer_faces_than_stated_are_noticed_as_the_vertices_may_be_miscounted(
    form: str, tmp_path: Path
) -> None:
    path = write_ply(tmp_path / "a.ply", some_points(100), form=form)
    path.write_bytes(path.read_bytes().replace(b"element face 1\n", b"element face 9\n"))
    code, detail = refusal(path)
    assert code == "scan-file-truncated"
    assert "states 100 vertices and 9 rows" in detail


@pytest.mark.parametrize("order", ["<", ">"])
def test_lists_of_any_length_behind_the_vertices_are_passed_over(order: str, tmp_path: Path) -> None:
    points, rng = some_points(50), np.random.default_rng(2)
    name = {"<": "little", ">": "big"}[order]
    head = (
        f"ply\nformat binary_{name}_endian 1.0\nelement vertex 50\nproperty double x\nproperty double y\n"
        "property double z\nelement face 30\nproperty uchar kind\nproperty list ushort int corners\n"
        "element edge 4\nproperty short a\nend_header\n"
    )
    faces = b""
    for length in rng.integers(0, 300, 30):
        faces += b"\1" + np.array(length, order + "u2").tobytes() + bytes(4 * int(length))
    path = tmp_path / "a.ply"
    path.write_bytes(head.encode() + points.astype(order + "f8").tobytes() + faces + bytes(8))
    np.testing.assert_array_equal(read(path), points)
    path.write_bytes(path.read_bytes()[:-1])
    assert refusal(path)[0] == "scan-file-truncated"


@pytest.mark.parametrize("form", FORMS)
def test_a_count_beyond_all_reason_is_refused_before_anything_is_read(form: str, tmp_path: Path) -> None:
    path = write_ply(tmp_path / "a.ply", some_points(10), form=form, extra=False)
    path.write_bytes(path.read_bytes().replace(b"element vertex 10\n", b"element vertex 999999999999\n"))
    assert refusal(path)[0] == "scan-file-truncated"


@pytest.mark.parametrize("form", FORMS)
def test_a_vertex_that_is_not_a_number_is_named(form: str, tmp_path: Path) -> None:
    points = some_points(50)
    points[30, 2] = np.nan
    code, detail = refusal(write_ply(tmp_path / "a.ply", points, form=form))
    assert code == "scan-file-not-a-number"
    assert "Point 31 " in detail


@pytest.mark.parametrize(
    ("header", "code", "words"),
    [
        ("format ascii 1.0\nelement vertex 0\nproperty float x", "scan-file-malformed", "property y, z"),
        ("format ascii 2.0\nelement vertex 1", "scan-file-unsupported", "ascii 2.0"),
        ("element vertex 1\nproperty float x", "scan-file-malformed", "format"),
        ("format ascii 1.0\nelement face 2", "scan-file-unsupported", "face"),
        ("format ascii 1.0\nelement vertex 1\nelement vertex 2", "scan-file-malformed", "twice"),
        ("format ascii 1.0\nelement face many", "scan-file-malformed", "'many' rows of 'face'"),
        (
            "format ascii 1.0\nelement vertex 1\nproperty list float int x",
            "scan-file-malformed",
            "list float",
        ),
        ("format ascii 1.0\nelement vertex -3", "scan-file-malformed", "-3"),
        ("format ascii 1.0\nelement vertex 1\nproperty quad x", "scan-file-malformed", "quad"),
        ("format ascii 1.0\nelement vertex 1\nproperty list uchar int x", "scan-file-unsupported", "list"),
    ],
)
def test_a_header_that_cannot_be_followed_is_refused(
    header: str, code: str, words: str, tmp_path: Path
) -> None:
    (tmp_path / "a.ply").write_text(f"ply\n{header}\nend_header\n1 2 3\n")
    got, detail = refusal(tmp_path / "a.ply")
    assert got == code
    assert words in detail


def test_a_header_without_end_is_refused(tmp_path: Path) -> None:
    (tmp_path / "a.ply").write_text("ply\nformat ascii 1.0\nelement vertex 1\n")
    assert refusal(tmp_path / "a.ply")[0] == "scan-file-truncated"
