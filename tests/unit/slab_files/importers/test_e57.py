"""E57 written by pye57 (an independent implementation), and damaged copies of it."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from slab_files.importers import e57
from slab_files.importers.e57_codecs import Decoder, Field
from slab_files.importers.e57_pages import TABLES, page_sums
from slab_files.importers.kinds import open_points
from tests.unit.slab_files.importers.written import outcome, read, refusal, some_points

pye57 = pytest.importorskip("pye57", reason="pye57 has no wheel here")
TURN = np.array([np.cos(0.3), 0.0, 0.0, np.sin(0.3)])
SHIFT = np.array([1.0, 2.0, 3.0])


def single_points(n: int, *, seed: int = 0) -> np.ndarray:
    """pye57 itself writes single precision."""
    return some_points(n, seed=seed).astype(np.float32).astype(np.float64)


def columns(points: np.ndarray, **more: np.ndarray) -> dict[str, np.ndarray]:
    return {**{f"cartesian{axis}": points[:, i].copy() for i, axis in enumerate("XYZ")}, **more}


def write(path: Path, *scans: dict[str, np.ndarray], **pose: Any) -> Path:
    with pye57.E57(str(path), mode="w") as file:
        for scan in scans:
            file.write_scan_raw(scan, **pose)
    return path


def test_points_come_back_by_the_pose_of_their_scan(tmp_path: Path) -> None:
    points = single_points(50_000)
    path = write(tmp_path / "a.e57", columns(points), rotation=TURN, translation=SHIFT)
    c, s = np.cos(0.6), np.sin(0.6)
    placed = points @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]]) + SHIFT
    source = open_points(path=path)
    assert (source.kind, source.claimed, source.unit_m) == ("e57", 50_000, 1.0)
    np.testing.assert_allclose(read(path), placed, atol=1e-12)


def test_all_scans_of_a_file_are_read_and_other_fields_passed_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(e57, "FEED_BYTES", 10_000)
    first, second = single_points(3000), single_points(2000, seed=1)
    colour = np.arange(3000, dtype=np.uint16)
    path = write(
        tmp_path / "a.e57", columns(first, intensity=np.ones(3000), rowIndex=colour), columns(second)
    )
    np.testing.assert_array_equal(read(path), np.concatenate([first, second]))


def test_points_marked_invalid_are_left_out(tmp_path: Path) -> None:
    points = single_points(1000)
    state = (np.arange(1000) % 3 == 0).astype(np.uint8)
    path = write(tmp_path / "a.e57", columns(points, cartesianInvalidState=state))
    np.testing.assert_array_equal(read(path), points[state == 0])


def write_nodes(path: Path, nodes: dict[str, tuple[Any, ...]], values: np.ndarray) -> Path:
    """Fields of any kind, written by libE57 itself: name to the node's class and arguments."""
    lib, image = pye57.libe57, pye57.E57(str(path), mode="w")
    file = image.image_file
    prototype, buffers = lib.StructureNode(file), lib.VectorSourceDestBuffer()
    held = [column.copy() for column in values.T]
    for (name, (kind, *arguments)), column in zip(nodes.items(), held, strict=True):
        prototype.set(name, getattr(lib, kind)(file, *arguments))
        buffers.append(lib.SourceDestBuffer(file, name, column, len(column), True, True))
    scan = lib.StructureNode(file)
    points = lib.CompressedVectorNode(file, prototype, lib.VectorNode(file, True))
    scan.set("points", points)
    image.data3d.append(scan)
    writer = points.writer(buffers)
    writer.write(len(values))
    writer.close()
    image.close()
    return path


def double(name: str) -> tuple[str, tuple[Any, ...]]:
    return name, ("FloatNode", 0.0, pye57.libe57.E57_DOUBLE, -1e9, 1e9)


def test_double_precision_is_kept_to_the_last_bit(tmp_path: Path) -> None:
    points = some_points(20_000) + 5_412_300.123456
    nodes = dict(double(f"cartesian{axis}") for axis in "XYZ")
    np.testing.assert_array_equal(read(write_nodes(tmp_path / "a.e57", nodes, points)), points)


@pytest.mark.parametrize("bits", [1, 3, 8, 11, 17, 21, 32, 33, 45, 50])
def test_whole_numbers_of_any_number_of_bits_are_unpacked(bits: int, tmp_path: Path) -> None:
    low, high, scale = -3, 2**bits - 4, 2.0**-10
    whole = np.random.default_rng(bits).integers(low, high, (5000, 3), endpoint=True)
    node = ("ScaledIntegerNode", low, low, high, scale, 0.5)
    path = write_nodes(tmp_path / "a.e57", {f"cartesian{axis}": node for axis in "XYZ"}, whole * scale + 0.5)
    np.testing.assert_array_equal(read(path), whole * scale + 0.5)


def test_a_field_of_one_value_takes_no_bits(tmp_path: Path) -> None:
    points = some_points(3000)
    points[:, 2] = 4.0
    nodes = dict([double("cartesianX"), double("cartesianY"), ("cartesianZ", ("IntegerNode", 4, 4, 4))])
    np.testing.assert_array_equal(read(write_nodes(tmp_path / "a.e57", nodes, points)), points)


@pytest.mark.parametrize("bits", [57, 58, 61, 63, 64])
def test_numbers_that_reach_into_a_ninth_byte_are_unpacked(bits: int) -> None:
    rng = np.random.default_rng(bits)
    whole = [int(number) & (2**bits - 1) for number in rng.integers(0, 2**64, 500, dtype=np.uint64)]
    packed = sum(number << (bits * i) for i, number in enumerate(whole)).to_bytes(
        bits * 500 // 8 + 1, "little"
    )
    decoder = Decoder(form=Field(name="a", kind="whole", high=2**bits - 1))
    values: list[float] = []
    for start in range(0, len(packed), 37):
        decoder.feed(packed[start : start + 37])
        values += decoder.values(at_most=500 - len(values)).tolist()
    assert values == [float(number) for number in whole]


def test_range_and_angles_become_places(tmp_path: Path) -> None:
    far, azimuth, elevation = np.array([2.0, 1.0]), np.array([np.pi / 2, 0.0]), np.array([0.0, np.pi / 6])
    nodes = dict(double(f"spherical{name}") for name in ("Range", "Azimuth", "Elevation"))
    path = write_nodes(tmp_path / "a.e57", nodes, np.column_stack([far, azimuth, elevation]))
    np.testing.assert_allclose(read(path), [[0, 2, 0], [np.sqrt(0.75), 0, 0.5]], atol=1e-12)


def test_the_checksum_is_that_of_rfc_3720() -> None:
    """RFC 3720, appendix B.4: CRC-32C of 32 bytes of zeroes is 8a9136aa, of ones 62a8ab43."""
    pages = np.zeros((2, 36), dtype=np.uint8)
    pages[1] = 255
    sums = np.empty(2, dtype=np.uint32)
    page_sums(pages, TABLES, sums)
    assert [hex(value) for value in sums] == ["0x8a9136aa", "0x62a8ab43"]


@pytest.mark.parametrize("keep", [8, 40, 2000, 0.5, 0.99])
def test_a_file_cut_short_is_refused(keep: float, tmp_path: Path) -> None:
    path = write(tmp_path / "a.e57", columns(some_points(5000)))
    whole = path.read_bytes()
    path.write_bytes(whole[: int(keep if keep >= 1 else keep * len(whole))])
    assert refusal(path)[0] == "scan-file-truncated"


def test_a_changed_byte_is_noticed_with_its_page(tmp_path: Path) -> None:
    path = write(tmp_path / "a.e57", columns(some_points(5000)))
    raw = bytearray(path.read_bytes())
    raw[20_000] ^= 4
    path.write_bytes(raw)
    code, detail = refusal(path)
    assert code == "scan-file-malformed"
    assert "Page 20 " in detail


def resealed(path: Path, raw: bytearray) -> Path:
    """Write changed bytes with checksums that fit again."""
    pages = np.frombuffer(bytes(raw), dtype=np.uint8).reshape(-1, 1024).copy()
    sums = np.empty(len(pages), dtype=np.uint32)
    page_sums(pages, TABLES, sums)
    pages[:, -4:] = sums.astype(">u4").view(np.uint8).reshape(-1, 4)
    path.write_bytes(pages.tobytes())
    return path


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        (b'recordCount="5000"', b'recordCount="9999"', "scan-file-truncated"),
        (b'recordCount="5000"', b'recordCount="-500"', "scan-file-malformed"),
        (b'recordCount="5000"', b'recordCount="many"', "scan-file-malformed"),
        (b"<cartesianX", b"<cartesianW", "scan-file-malformed"),
        (b"<?xml version", b"<!DOCTYPE e [", "scan-file-malformed"),
    ],
)
def test_a_tree_that_lies_is_refused(old: bytes, new: bytes, code: str, tmp_path: Path) -> None:
    path = write(tmp_path / "a.e57", columns(some_points(5000)))
    raw = bytearray(path.read_bytes())
    assert old in raw
    raw[:] = raw.replace(old, new)
    assert refusal(resealed(path, raw))[0] == code


def counted(path: Path, count: int, *, as_: int) -> Path:
    """The same file whose tree states another number of points."""
    raw = bytearray(path.read_bytes())
    old, new = (f'recordCount="{number}"'.encode() for number in (count, as_))
    assert old in raw
    assert len(old) == len(new)
    raw[:] = raw.replace(old, new)
    return resealed(path, raw)


@pytest.mark.parametrize("bits", [0, 17, 21, 32, 45, 64])
@pytest.mark.parametrize("stated", [4999, 4000, 1000])
def test_points_that_a_scan_does_not_count_are_not_left_out_in_silence(
    bits: int, stated: int, tmp_path: Path
) -> None:
    points = some_points(5000)
    nodes = dict(double(f"cartesian{axis}") for axis in "XYZ")
    if bits == 32:
        path = write(tmp_path / "a.e57", columns(points))
    elif bits in (0, 64):
        if not bits:
            points[:, 2] = 4.0
            nodes["cartesianZ"] = ("IntegerNode", 4, 4, 4)
        path = write_nodes(tmp_path / "a.e57", nodes, points)
    else:
        low, high = -3, 2**bits - 4
        whole = np.random.default_rng(bits).integers(low, high, (5000, 3), endpoint=True) / 1024
        node = ("ScaledIntegerNode", low, low, high, 2.0**-10, 0.0)
        path = write_nodes(tmp_path / "a.e57", {f"cartesian{axis}": node for axis in "XYZ"}, whole)
    code, detail = refusal(counted(path, 5000, as_=stated))
    assert code == "scan-file-malformed"
    assert f"states {stated:,} points and holds 5,000:" in detail


def test_random_changes_under_right_checksums_never_crash(tmp_path: Path) -> None:
    path = write(tmp_path / "a.e57", columns(some_points(2000)))
    whole, rng = path.read_bytes(), np.random.default_rng(0)
    for _ in range(60):
        raw = bytearray(whole)
        for at in rng.integers(0, len(raw), 3):
            raw[at] = rng.integers(256)
        found = outcome(resealed(path, raw))
        assert isinstance(found, int) or found.startswith("scan-file-")
