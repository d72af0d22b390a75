"""Points from PLY: the vertices, as text or as numbers of either byte order."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import IO, Any

import numpy as np

from slab_core.numerics.grid import Floats
from slab_files.importers.points import CHUNK_BYTES, PointFile, check_finite
from slab_files.importers.refusals import empty, malformed, truncated, unsupported

TYPES = {
    **dict.fromkeys(("char", "int8"), "i1"),
    **dict.fromkeys(("uchar", "uint8"), "u1"),
    **dict.fromkeys(("short", "int16"), "i2"),
    **dict.fromkeys(("ushort", "uint16"), "u2"),
    **dict.fromkeys(("int", "int32"), "i4"),
    **dict.fromkeys(("uint", "uint32"), "u4"),
    **dict.fromkeys(("float", "float32"), "f4"),
    **dict.fromkeys(("double", "float64"), "f8"),
}
ORDERS = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
MOST_HEADER_LINES = 1000
LONGEST_LINE = 4096
TEXT_ROWS = 200_000


@dataclass(frozen=True, slots=True, kw_only=True)
class _Header:
    """`order` is empty for text; `fields` are the vertex's properties; vertices begin at `begin`."""

    order: str
    fields: tuple[tuple[str, str], ...]
    count: int
    begin: int


def open_ply(*, path: Path) -> PointFile:
    """The vertices of a PLY file; faces and other elements are passed over."""
    with path.open("rb") as file:
        header = _read_header(file)
    if not header.count:
        raise empty("The file's header states no vertices.")
    if header.order:
        _check_size(path, header)
    read = _numbers if header.order else _lines
    return PointFile(
        kind="ply", claimed=header.count, unit_m=None, chunks=lambda: read(path=path, header=header)
    )


def _read_header(file: IO[bytes]) -> _Header:
    if file.readline(16).strip() != b"ply":
        raise malformed("The file does not begin with 'ply'.")
    order, element, count = "", "", 0
    fields: list[tuple[str, str]] = []
    seen_format = False
    for line in _header_lines(file):
        match line.split():
            case ["format", name, "1.0"] if name in ORDERS:
                order, seen_format = ORDERS[name], True
            case ["format", *rest]:
                raise unsupported(
                    f"The format {' '.join(rest)!r} of PLY is not read; ascii and binary 1.0 are."
                )
            case ["element", name, number]:
                if name != "vertex" and not count:
                    raise unsupported(f"The element {name!r} comes before the vertices.")
                element, count = name, _count(number) if name == "vertex" else count
            case ["property", kind, name] if element == "vertex":
                fields.append((name, _type(kind)))
            case ["property", "list", *_] if element == "vertex":
                raise unsupported("The vertices have a list among their properties.")
    if not seen_format:
        raise malformed("The header does not name its format.")
    _check_fields([name for name, _ in fields])
    return _Header(order=order, fields=tuple(fields), count=count, begin=file.tell())


def _header_lines(file: IO[bytes]) -> Iterator[str]:
    for _ in range(MOST_HEADER_LINES):
        line = file.readline(LONGEST_LINE)
        if not line.endswith(b"\n"):
            raise (
                truncated("The file ends within its header.")
                if len(line) < LONGEST_LINE
                else malformed("A line of the header is too long.")
            )
        text = line.decode("ascii", "replace").strip()
        if text == "end_header":
            return
        yield text
    raise malformed(f"The header has more than {MOST_HEADER_LINES:,} lines.")


def _count(word: str) -> int:
    if not word.isdigit() or len(word) > 15:
        raise malformed(f"The header states {word[:40]!r} vertices.")
    return int(word)


def _type(word: str) -> str:
    if word not in TYPES:
        raise malformed(f"The header names the type {word[:40]!r}, which PLY does not have.")
    return TYPES[word]


def _check_fields(names: list[str]) -> None:
    missing = [axis for axis in ("x", "y", "z") if axis not in names]
    if missing:
        raise malformed(f"The vertices have no property {', '.join(missing)}.")
    twice = {name for name in names if names.count(name) > 1}
    if twice:
        raise malformed(f"The vertices have two properties {', '.join(sorted(twice))}.")


def _row_type(header: _Header) -> np.dtype[Any]:
    return np.dtype([(name, header.order + kind) for name, kind in header.fields])


def _check_size(path: Path, header: _Header) -> None:
    """The header's count is held against the file's size before anything is read."""
    size, held = _row_type(header).itemsize, path.stat().st_size - header.begin
    if header.count * size > held:
        raise truncated(
            f"The header states {header.count:,} vertices; the file has room for {held // size:,}."
        )


def _numbers(*, path: Path, header: _Header) -> Iterator[Floats]:
    row, read = _row_type(header), 0
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


def _lines(*, path: Path, header: _Header) -> Iterator[Floats]:
    names = [name for name, _ in header.fields]
    columns = tuple(names.index(axis) for axis in ("x", "y", "z"))
    read = 0
    with path.open("rb") as file:
        file.seek(header.begin)
        while read < header.count:
            lines = list(islice(_text_lines(file), min(TEXT_ROWS, header.count - read)))
            if not lines:
                raise truncated(f"The header states {header.count:,} vertices; the file holds {read:,}.")
            points = _parse(lines, columns, before=read)
            yield check_finite(points, before=read)
            read += len(points)


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
