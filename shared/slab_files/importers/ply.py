"""Points from PLY: the vertices, as text or as numbers of either byte order."""

from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import IO

import numpy as np

from slab_core.numerics.grid import Floats
from slab_files.importers.ply_header import LONGEST_LINE, PlyHeader, read_ply_header
from slab_files.importers.ply_rest import check_lines, check_numbers
from slab_files.importers.points import CHUNK_BYTES, PointFile, check_finite
from slab_files.importers.refusals import empty, malformed, truncated

TEXT_ROWS = 200_000


def open_ply(*, path: Path) -> PointFile:
    """The vertices of a PLY file; faces and other elements are passed over, but must be there."""
    header = read_ply_header(path=path)
    if not header.count:
        raise empty("The file's header states no vertices.")
    if header.order:
        check_numbers(path=path, header=header)
    read = _numbers if header.order else _lines
    return PointFile(
        kind="ply", claimed=header.count, unit_m=None, chunks=lambda: read(path=path, header=header)
    )


def _numbers(*, path: Path, header: PlyHeader) -> Iterator[Floats]:
    row, read = header.row(), 0
    rows = max(1, CHUNK_BYTES // row.itemsize)
    with path.open("rb") as file:
        file.seek(header.begin)
        while read < header.count:
            block = file.read(min(rows, header.count - read) * row.itemsize)
            if len(block) % row.itemsize or not block:
                raise truncated(f"The file ends within vertex {read + len(block) // row.itemsize + 1:,}.")
            held = np.frombuffer(block, dtype=row)
            points = np.column_stack([held[axis].astype(np.float64) for axis in ("x", "y", "z")])
            yield check_finite(points, before=read)
            read += len(points)


def _lines(*, path: Path, header: PlyHeader) -> Iterator[Floats]:
    columns, read = header.columns(), 0
    with path.open("rb") as file:
        file.seek(header.begin)
        while read < header.count:
            lines = list(islice(_text_lines(file), min(TEXT_ROWS, header.count - read)))
            if not lines:
                raise truncated(f"The header states {header.count:,} vertices; the file holds {read:,}.")
            points = _parse(lines, columns, before=read)
            yield check_finite(points, before=read)
            read += len(points)
        check_lines(file, header=header)


def _text_lines(file: IO[bytes]) -> Iterator[bytes]:
    while line := file.readline(LONGEST_LINE):
        if len(line) == LONGEST_LINE:
            raise malformed("A line of the vertices is too long.")
        if not line.isspace():
            yield line


def _parse(lines: list[bytes], columns: tuple[int, ...], *, before: int) -> Floats:
    try:
        return np.loadtxt(lines, usecols=columns, ndmin=2, comments=None)
    except (ValueError, UnicodeDecodeError):
        for row, line in enumerate(lines, before + 1):
            words = line.split()
            try:
                [float(words[at]) for at in columns]
            except (ValueError, IndexError):
                raise malformed(f"Vertex {row:,} does not hold three numbers: {line[:60]!r}.") from None
        raise malformed(f"The vertices after vertex {before:,} do not all hold three numbers.") from None
