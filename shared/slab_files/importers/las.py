"""Points from LAS and, decompressed by way of laspy and lazrs, from LAZ."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import laspy
import numpy as np
from laspy.errors import LaspyException

from slab_core.errors import InputRefused
from slab_core.numerics.grid import Floats
from slab_files.importers.las_header import LasHeader, read_las_header
from slab_files.importers.laz_chunks import held_beyond
from slab_files.importers.points import CHUNK_BYTES, PointFile
from slab_files.importers.refusals import malformed, truncated, unfinished


def open_las(*, path: Path) -> PointFile:
    """All points of a LAS or LAZ file, whatever their class or return."""
    header = read_las_header(path=path)
    read = _decompressed if header.compressed else _plain
    return PointFile(
        kind="laz" if header.compressed else "las",
        claimed=header.count,
        unit_m=header.unit_m,
        chunks=lambda: read(path=path, header=header),
    )


def _plain(*, path: Path, header: LasHeader) -> Iterator[Floats]:
    row = np.dtype(
        {
            "names": ["X", "Y", "Z"],
            "formats": ["<i4"] * 3,
            "offsets": [0, 4, 8],
            "itemsize": header.record_bytes,
        }
    )
    buffer = bytearray(_rows(header) * header.record_bytes)
    left = header.count
    with path.open("rb") as file:
        file.seek(header.begin)
        while left:
            wanted = min(left * header.record_bytes, len(buffer))
            got = file.readinto(memoryview(buffer)[:wanted])
            if got < wanted:
                raise truncated(
                    f"The file ends within point {header.count - left + got // row.itemsize + 1:,}."
                )
            yield _scaled(np.frombuffer(buffer, dtype=row, count=wanted // row.itemsize), header)
            left -= wanted // row.itemsize


def _decompressed(*, path: Path, header: LasHeader) -> Iterator[Floats]:
    read = 0
    try:
        with laspy.open(path, laz_backend=laspy.LazBackend.Lazrs) as reader:
            (compression,) = reader.header.vlrs.get("LasZipVlr")  # reading takes it away
            for chunk in reader.chunk_iterator(_rows(header)):
                yield _scaled(chunk.array, header)
                read += len(chunk)
            more = held_beyond(path=path, header=header, record=compression.record_data)
    except InputRefused:
        raise
    except MemoryError:
        raise malformed("The compressed points ask for more memory than a scan needs.") from None
    except Exception as problem:
        # The decompressor, in Rust, has an error class of its own and also raises those of Python.
        raise _undecodable(problem, read=read, header=header) from None
    if read != header.count:
        raise truncated(f"The header states {header.count:,} points; the file holds {read:,}.")
    if more:
        raise unfinished(stated=header.count, held=more)


def _undecodable(problem: Exception, *, read: int, header: LasHeader) -> InputRefused:
    words = str(problem).strip().splitlines()[:1] or [type(problem).__name__]
    where = (
        f"The compressed points after point {read:,} of {header.count:,} cannot be read ({words[0][:120]})."
    )
    known = isinstance(problem, LaspyException) and "fill whole buffer" not in words[0]
    return malformed(where) if known else truncated(where)


def _rows(header: LasHeader) -> int:
    return max(1, min(CHUNK_BYTES // header.record_bytes, header.count))


def _scaled(rows: Any, header: LasHeader) -> Floats:
    points = np.empty((len(rows), 3))
    for axis, name in enumerate("XYZ"):
        np.multiply(rows[name], header.scale[axis], out=points[:, axis])
        points[:, axis] += header.offset[axis]
    return points
