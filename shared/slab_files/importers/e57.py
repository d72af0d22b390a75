"""Points from E57, read by ourselves: a small reader installs everywhere and holds no foreign parser."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from slab_core.numerics.grid import Floats
from slab_files.importers.e57_codecs import Decoder
from slab_files.importers.e57_pages import PagedFile
from slab_files.importers.e57_tree import MOST_XML_BYTES, SPHERICAL, Scan, scans_of
from slab_files.importers.points import PointFile, check_finite
from slab_files.importers.refusals import empty, malformed, truncated

SECTION_BYTES = 32
INDEX_PACKET, DATA_PACKET, EMPTY_PACKET = 0, 1, 2
FEED_BYTES = 8_000_000


def open_e57(*, path: Path) -> PointFile:
    """All valid points of all scans of an E57 file, by the pose of each scan, in metres."""
    with PagedFile(path) as file:
        if not 0 < file.xml_bytes <= min(MOST_XML_BYTES, file.size):
            raise malformed(f"The header states {file.xml_bytes:,} bytes of XML.")
        file.seek(file.xml_at)
        scans = scans_of(file.read(file.xml_bytes))
    count = sum(scan.count for scan in scans)
    if not count:
        raise empty("The file holds no points.")
    return PointFile(kind="e57", claimed=count, unit_m=1.0, chunks=lambda: _chunks(path=path, scans=scans))


def _chunks(*, path: Path, scans: tuple[Scan, ...]) -> Iterator[Floats]:
    before = 0
    with PagedFile(path) as file:
        for scan in scans:
            if not scan.count and not scan.begin:
                continue
            for points in _scan_points(file, scan):
                yield check_finite(points, before=before)
                before += len(points)


def _scan_points(file: PagedFile, scan: Scan) -> Iterator[Floats]:
    wanted = {*scan.axes, scan.invalid} - {""}
    decoders = {i: Decoder(form=field) for i, field in enumerate(scan.fields) if field.name in wanted}
    waiting = {field.name: np.empty(0) for field in scan.fields if field.name in wanted}
    read = fed = 0
    packets = _packets(file, scan)
    while read < scan.count:
        streams = next(packets, None)
        if streams is not None:
            for i, decoder in decoders.items():
                decoder.feed(streams[i])
                fed += len(streams[i])
            if fed < FEED_BYTES:
                continue
        count = _take(decoders, waiting, left=scan.count - read)
        if streams is None and not count:
            raise truncated(f"A scan of the file states {scan.count:,} points and holds {read:,}.")
        yield _placed(scan, {name: values[:count] for name, values in waiting.items()})
        for name, values in waiting.items():
            waiting[name] = values[count:]
        read, fed = read + count, 0
    _check_rest(scan, decoders, packets)


def _check_rest(scan: Scan, decoders: dict[int, Decoder], packets: Iterator[list[bytes]]) -> None:
    """Points beyond those that a scan states are not left out in silence."""
    rests = {i: decoder.rest() for i, decoder in decoders.items()}
    for streams in packets:
        for i, rest in rests.items():
            rest.add(streams[i])
    more = max(rest.values() for rest in rests.values())
    if more:
        raise malformed(
            f"A scan of the file states {scan.count:,} points and holds {scan.count + more:,}: the file was "
            "not finished. Export it again."
        )


def _take(decoders: dict[int, Decoder], waiting: dict[str, Floats], *, left: int) -> int:
    """Add decoded values to those waiting; how many points are complete.

    Fields of fixed value come last: they have as many values as are asked for.
    """
    for decoder in sorted(decoders.values(), key=lambda decoder: decoder.form.bits == 0):
        name = decoder.form.name
        most = left if decoder.form.bits else max(map(len, waiting.values()))
        new = decoder.values(at_most=most - len(waiting[name]))
        waiting[name] = np.concatenate([waiting[name], new])
    return min(map(len, waiting.values()))


def _packets(file: PagedFile, scan: Scan) -> Iterator[list[bytes]]:
    """The bytes of every field, data packet by data packet."""
    file.seek(scan.begin)
    section = file.read(SECTION_BYTES)
    length, data_at = (int(number) for number in np.frombuffer(section, dtype="<u8", offset=8, count=2))
    if section[0] != 1:
        raise malformed(f"No points begin at byte {scan.begin:,}, where the file says.")
    file.seek(data_at)
    left = length - SECTION_BYTES
    while left >= 4:
        head = file.read(4)
        size = int.from_bytes(head[2:4], "little") + 1
        if head[0] not in (INDEX_PACKET, DATA_PACKET, EMPTY_PACKET) or size % 4 or size > left:
            raise malformed(f"A packet of {size:,} bytes and kind {head[0]} stands among the points.")
        body = file.read(size - 4)
        left -= size
        if head[0] == DATA_PACKET:
            yield _streams(body, len(scan.fields))


def _streams(body: bytes, fields: int) -> list[bytes]:
    count = int.from_bytes(body[:2], "little")
    ends = 2 + 2 * count + np.cumsum(np.frombuffer(body, dtype="<u2", offset=2, count=count), dtype=np.int64)
    if count != fields or ends[-1] > len(body):
        raise malformed(f"A packet of the points holds {count} fields, not {fields}, or ends too soon.")
    starts = [2 + 2 * count, *ends[:-1]]
    return [body[start:end] for start, end in zip(starts, ends, strict=True)]


def _placed(scan: Scan, values: dict[str, Floats]) -> Floats:
    points = np.column_stack([values[name] for name in scan.axes])
    if scan.invalid:
        points = points[values[scan.invalid] == 0]
    if scan.axes == SPHERICAL:
        points = _cartesian(points)
    w, x, y, z = scan.turn
    if (x, y, z) != (0.0, 0.0, 0.0):
        points = points @ _rotation(w, x, y, z).T
    return np.asarray(points + np.array(scan.shift))


def _cartesian(points: Floats) -> Floats:
    far, azimuth, elevation = points.T
    flat = far * np.cos(elevation)
    return np.column_stack([flat * np.cos(azimuth), flat * np.sin(azimuth), far * np.sin(elevation)])


def _rotation(w: float, x: float, y: float, z: float) -> Floats:
    """The matrix of a unit quaternion."""
    return np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )
