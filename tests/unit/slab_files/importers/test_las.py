"""LAS and LAZ: a real scan, files written by laspy, and damaged copies of them."""

import struct
from pathlib import Path

import laspy
import numpy as np
import pytest

from slab_files.importers import las
from slab_files.importers.kinds import open_points
from tests.unit.slab_files.importers.written import SCAN, outcome, read, refusal, some_points, write_las


def test_the_real_scan_has_the_plane_that_was_computed_of_it() -> None:
    """plane.laz of laspy 2.7.0: 28,185 points; slopes and residuals by least squares over all of them."""
    source = open_points(path=SCAN)
    assert (source.kind, source.claimed) == ("laz", 28_185)
    points = read(SCAN)
    points -= points.min(axis=0)
    columns = np.column_stack([np.ones(len(points)), points[:, :2]])
    plane = np.linalg.lstsq(columns, points[:, 2], rcond=None)[0]
    residual = points[:, 2] - columns @ plane
    assert plane[1:] == pytest.approx((2.60315104e-3, -1.61929704e-3), abs=1e-10)
    assert np.sqrt(np.mean(residual**2)) == pytest.approx(8.2615e-3, abs=5e-8)
    assert np.abs(residual).max() == pytest.approx(30.27e-3, abs=5e-6)


@pytest.mark.parametrize("suffix", ["las", "laz"])
@pytest.mark.parametrize(("point_format", "version"), [(0, "1.2"), (3, "1.3"), (6, "1.4"), (8, "1.4")])
def test_points_come_back_as_laspy_reads_them(
    suffix: str, point_format: int, version: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(las, "CHUNK_BYTES", 10_000)
    points = some_points(2000) + (432_000.0, 5_412_000.0, 300.0)  # noqa: RUF005 - an array and a shift
    path = write_las(tmp_path / f"a.{suffix}", points, point_format=point_format, version=version)
    there = laspy.read(path)
    np.testing.assert_allclose(read(path), np.column_stack([there.x, there.y, there.z]), rtol=0, atol=1e-9)
    np.testing.assert_allclose(read(path), points, rtol=0, atol=1e-8)


@pytest.mark.parametrize("suffix", ["las", "laz"])
@pytest.mark.parametrize("keep", [10, 226, 300, 0.5, 0.98])
def test_a_file_cut_short_is_refused(suffix: str, keep: float, tmp_path: Path) -> None:
    path = write_las(tmp_path / f"a.{suffix}", some_points(60_000))
    whole = path.read_bytes()
    path.write_bytes(whole[: int(keep if keep >= 1 else keep * len(whole))])
    assert refusal(path)[0] == "scan-file-truncated"


def test_points_that_the_header_does_not_count_are_not_left_out_in_silence(tmp_path: Path) -> None:
    path = change(write_las(tmp_path / "a.las", some_points(500)), 107, "<I", 400)
    code, words = refusal(path)
    assert code == "scan-file-malformed"
    assert "states 400 points, and the file holds 500" in words


@pytest.mark.parametrize(("point_format", "version"), [(0, "1.2"), (3, "1.3"), (6, "1.4"), (8, "1.4")])
@pytest.mark.parametrize(("held", "stated"), [(500, 490), (500, 1), (60_000, 59_000), (60_000, 50_000)])
def test_compressed_points_that_the_header_does_not_count_are_not_left_out_in_silence(
    held: int, stated: int, point_format: int, version: str, tmp_path: Path
) -> None:
    path = write_las(tmp_path / "a.laz", some_points(held), point_format=point_format, version=version)
    change(path, 107, "<I", stated)
    if version == "1.4":
        change(path, 107, "<I", 0)
        change(path, 247, "<Q", stated)
    code, words = refusal(path)
    assert code == "scan-file-malformed"
    assert f"states {stated:,} points, and the file holds " in words
    assert "more" in words or f"holds {held:,}:" in words


@pytest.mark.parametrize("held", [1, 2, 3, 17, 49_999, 50_000, 50_001])
@pytest.mark.parametrize("point_format", [0, 6])
def test_compressed_files_that_count_right_are_read_whole(
    held: int, point_format: int, tmp_path: Path
) -> None:
    version = "1.4" if point_format == 6 else "1.2"
    path = write_las(tmp_path / "a.laz", some_points(held), point_format=point_format, version=version)
    assert len(read(path)) == held


def change(path: Path, at: int, form: str, *values: float) -> Path:
    raw = bytearray(path.read_bytes())
    struct.pack_into(form, raw, at, *values)
    path.write_bytes(raw)
    return path


@pytest.mark.parametrize(
    ("at", "form", "values", "code", "words"),
    [
        (107, "<I", (4_000_000_000,), "scan-file-truncated", "has room for 500"),
        (107, "<I", (0,), "scan-file-empty", "no points"),
        (105, "<H", (5,), "scan-file-malformed", "5 bytes a point"),
        (105, "<H", (65_535,), "scan-file-malformed", "65,535 bytes a point"),
        (104, "<B", (33,), "scan-file-unsupported", "format 33"),
        (25, "<B", (9,), "scan-file-unsupported", "1.9"),
        (100, "<I", (4_000_000_000,), "scan-file-malformed", "further records"),
        (96, "<I", (4_000_000_000,), "scan-file-truncated", "room for 0"),
        (96, "<I", (3,), "scan-file-malformed", "from byte 3"),
        (131, "<d", (0.0,), "scan-file-malformed", "scales"),
        (131, "<d", (float("nan"),), "scan-file-malformed", "scales"),
        (155, "<d", (float("inf"),), "scan-file-malformed", "offsets"),
    ],
)
def test_a_header_that_lies_is_refused_by_what_it_says(
    at: int, form: str, values: tuple[float, ...], code: str, words: str, tmp_path: Path
) -> None:
    path = write_las(tmp_path / "a.las", some_points(500))
    got, detail = refusal(change(path, at, form, *values))
    assert got == code
    assert words in detail


def test_a_compressed_file_that_states_too_many_points_is_refused(tmp_path: Path) -> None:
    path = change(write_las(tmp_path / "a.laz", some_points(500)), 107, "<I", 3_000_000_000)
    assert refusal(path)[0] in {"scan-file-truncated", "scan-file-malformed"}


def test_damaged_compressed_points_are_refused_or_read_but_never_crash(tmp_path: Path) -> None:
    path = write_las(tmp_path / "a.laz", some_points(5000))
    whole, rng = path.read_bytes(), np.random.default_rng(0)
    for _ in range(20):
        raw = bytearray(whole)
        for at in rng.integers(230, len(raw), 5):
            raw[at] = rng.integers(256)
        path.write_bytes(raw)
        found = outcome(path)
        assert found == 5000 or str(found).startswith("scan-file-")


@pytest.mark.parametrize(
    ("codes", "unit"), [((9001,), 1.0), ((9003, 9003), 1200 / 3937), ((9001, 9002), None)]
)
def test_the_unit_is_taken_from_the_files_keys_when_they_agree(
    codes: tuple[int, ...], unit: float | None, tmp_path: Path
) -> None:
    path = write_las(tmp_path / "a.las", some_points(10))
    keys = [(key, 0, 1, code) for key, code in zip((3076, 4099), codes, strict=False)]
    directory = struct.pack("<4H", 1, 1, 0, len(keys)) + b"".join(struct.pack("<4H", *key) for key in keys)
    there = laspy.read(path)
    vlr = laspy.VLR(user_id="LASF_Projection", record_id=34735, record_data=directory)
    there.header.vlrs.append(vlr)
    there.write(path)
    assert open_points(path=path).unit_m == unit
    np.testing.assert_allclose(read(path), some_points(10), atol=1e-8)
