"""What stands behind a PLY file's vertices: no more and no less than its header states.

A header that counts too few vertices would else leave points out in silence.
"""

from pathlib import Path
from typing import IO

import numpy as np
from numpy.typing import NDArray

from slab_core.errors import InputRefused
from slab_core.numerics.kernel import kernel
from slab_files.importers.ply_header import LONGEST_LINE, Element, PlyHeader
from slab_files.importers.refusals import malformed, truncated

Bytes = NDArray[np.uint8]


def check_numbers(*, path: Path, header: PlyHeader) -> None:
    """Hold what a binary file's header states against its size. Raises InputRefused."""
    size, whole = header.row().itemsize, path.stat().st_size
    end = header.begin + header.count * size
    if end > whole:
        held = (whole - header.begin) // size
        raise truncated(f"The header states {header.count:,} vertices; the file has room for {held:,}.")
    for element in header.behind:
        if element.properties and element.count:
            end = _end_of(element, path=path, begin=end, big=header.order == ">")
        if end < 0:
            raise truncated(
                f"The header states {header.count:,} vertices and {element.count:,} rows of "
                f"{element.name[:40]!r} behind them, which end beyond the file."
            )
    if whole - end >= size:
        raise _more(header, header.count + (whole - end) // size)


def _end_of(element: Element, *, path: Path, begin: int, big: bool) -> int:
    """Where an element's rows end, or -1 beyond the file."""
    raw: Bytes = np.asarray(np.memmap(path, dtype=np.uint8, mode="r"))
    counted = np.array([_bytes(own.counted) for own in element.properties])
    sizes = np.array([_bytes(own.kind) for own in element.properties])
    return _walked(raw, begin, element.count, counted, sizes, big)


def check_lines(file: IO[bytes], *, header: PlyHeader) -> None:
    """The same of a text file that is read up to its last vertex."""
    stated = sum(element.count for element in header.behind if element.properties)
    held = _count_lines(file)
    if held > stated:
        raise _more(header, header.count + held - stated)
    if held < stated:
        raise truncated(
            f"The header states {header.count:,} vertices and {stated:,} rows behind them; the file holds "
            f"{header.count + held:,} rows."
        )


def _more(header: PlyHeader, held: int) -> InputRefused:
    return malformed(
        f"The header states {header.count:,} vertices, and the file holds {held:,}: it was not finished. "
        "Export it again."
    )


def _bytes(kind: str) -> int:
    return np.dtype(kind).itemsize if kind else 0


@kernel
def _walked(
    raw: Bytes, at: int, count: int, counted: NDArray[np.int64], sizes: NDArray[np.int64], big: bool
) -> int:
    """Where an element's rows end that begin at a place, or -1 where that is beyond the file.

    A property takes its size; a list first says its length in `counted` bytes.
    """
    for _ in range(count):
        for k in range(len(sizes)):
            length = 1
            if counted[k]:
                if at + counted[k] > len(raw):
                    return -1
                length = 0
                for b in range(counted[k]):
                    length = 256 * length + raw[at + (b if big else counted[k] - 1 - b)]
                at += counted[k]
            at += length * sizes[k]
            if at > len(raw):
                return -1
    return at


def _count_lines(file: IO[bytes]) -> int:
    """Lines that are not blank, however long."""
    count, blank = 0, True
    while part := file.readline(LONGEST_LINE):
        blank = blank and part.isspace()
        if part.endswith(b"\n"):
            count, blank = count + (not blank), True
    return count + (not blank)
