"""The header of LAS and LAZ files, held against the file's size before anything is believed.

Fields and their places: ASPRS, "LAS Specification 1.4 - R15", table 3 and its predecessors for 1.0 to 1.3.
"""

import struct
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from slab_files.importers.refusals import empty, malformed, truncated, unfinished, unsupported

OLD_HEADER, NEW_HEADER = 227, 375
LEAST_RECORD = {0: 20, 1: 28, 2: 26, 3: 34, 4: 57, 5: 63, 6: 30, 7: 36, 8: 38, 9: 59, 10: 67}
LONGEST_RECORD = 8192
MOST_VLRS, MOST_VLR_BYTES = 1000, 2_000_000
COMPRESSED_BITS = 0xC0
UNITS = {9001: 1.0, 9002: 0.3048, 9003: 1200 / 3937}
"""Length in metres of the units of GeoTIFF keys: metre, international foot, US survey foot."""

LENGTH_KEYS = (3076, 4099)
"""Keys of the units of the map's lengths and of heights."""

Triple = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class LasHeader:
    """What is needed to read x, y and z of every record. A coordinate is whole number · scale + offset."""

    compressed: bool
    point_format: int
    begin: int
    record_bytes: int
    count: int
    scale: Triple
    offset: Triple
    unit_m: float | None
    more_may_follow: bool


def read_las_header(*, path: Path) -> LasHeader:
    """Raises InputRefused where the header does not fit the file or the format."""
    size = path.stat().st_size
    with path.open("rb") as file:
        raw = file.read(NEW_HEADER)
        if len(raw) < OLD_HEADER:
            raise truncated("The file ends within its header.")
        header = _parse(raw)
        file.seek(int.from_bytes(raw[94:96], "little"))
        unit = _unit(file.read(min(max(0, header.begin - file.tell()), MOST_VLR_BYTES)), raw)
    _check(header, size)
    return LasHeader(**{**{name: getattr(header, name) for name in LasHeader.__slots__}, "unit_m": unit})


def _parse(raw: bytes) -> LasHeader:
    major, minor, header_bytes = raw[24], raw[25], int.from_bytes(raw[94:96], "little")
    if raw[:4] != b"LASF" or major != 1 or minor > 4:
        raise unsupported(f"The file states version {major}.{minor} of LAS; 1.0 to 1.4 are read.")
    begin, vlrs, form, record_bytes, count = struct.unpack_from("<IIBHI", raw, 96)
    if minor == 4 and len(raw) >= NEW_HEADER:
        count = max(count, struct.unpack_from("<Q", raw, 247)[0])
    kind = form & ~COMPRESSED_BITS
    if kind not in LEAST_RECORD:
        raise unsupported(f"The file states point format {kind}; LAS has 0 to 10.")
    if not LEAST_RECORD[kind] <= record_bytes <= LONGEST_RECORD:
        raise malformed(
            f"The header states {record_bytes:,} bytes a point, which format {kind} does not have."
        )
    if vlrs > MOST_VLRS or header_bytes < OLD_HEADER or begin < header_bytes:
        detail = f"The header of {header_bytes:,} bytes states {vlrs:,} further records"
        raise malformed(f"{detail} and points from byte {begin:,}.")
    numbers = struct.unpack_from("<6d", raw, 131)
    if not np.isfinite(numbers).all() or min(numbers[:3]) <= 0.0 or max(numbers[:3]) > 1e3:
        raise malformed(f"The header states the scales {numbers[:3]} and offsets {numbers[3:]}.")
    return LasHeader(
        compressed=form & COMPRESSED_BITS != 0,
        point_format=kind,
        begin=begin,
        record_bytes=record_bytes,
        count=count,
        scale=(numbers[0], numbers[1], numbers[2]),
        offset=(numbers[3], numbers[4], numbers[5]),
        unit_m=None,
        more_may_follow=_more_may_follow(raw, minor),
    )


def _more_may_follow(raw: bytes, minor: int) -> bool:
    """Whether the header speaks of records behind the points: waveforms since 1.3, any kind since 1.4."""
    if len(raw) < NEW_HEADER or minor < 3:
        return False
    waveforms = struct.unpack_from("<Q", raw, 227)[0]
    return bool(waveforms or (minor == 4 and struct.unpack_from("<I", raw, 243)[0]))


def _check(header: LasHeader, size: int) -> None:
    room = max(0, size - header.begin)
    if not header.count:
        raise empty("The header states no points.")
    if not header.compressed and header.count * header.record_bytes > room:
        there = room // header.record_bytes
        raise truncated(f"The header states {header.count:,} points; the file has room for {there:,}.")
    beyond = room - header.count * header.record_bytes
    if not header.compressed and not header.more_may_follow and beyond >= header.record_bytes:
        held = room // header.record_bytes
        raise unfinished(stated=header.count, held=f"{held:,}")
    if header.compressed and room < 8:
        raise truncated("The file ends before its points.")


def _unit(vlrs: bytes, raw: bytes) -> float | None:
    """The unit of the file's GeoTIFF keys, when those of map and heights agree."""
    at = 0
    for _ in range(int.from_bytes(raw[100:104], "little")):
        if at + 54 > len(vlrs):
            return None
        user, record, length = struct.unpack_from("<2x16sHH", vlrs, at)
        if (user.rstrip(b"\0"), record) == (b"LASF_Projection", 34735):
            return _unit_of_keys(vlrs[at + 54 : at + 54 + length])
        at += 54 + length
    return None


def _unit_of_keys(directory: bytes) -> float | None:
    keys = np.frombuffer(directory[: len(directory) // 8 * 8], dtype="<u2").reshape(-1, 4)[1:]
    found = {UNITS.get(int(value)) for key, place, _, value in keys if key in LENGTH_KEYS and place == 0}
    return found.pop() if len(found) == 1 else None
