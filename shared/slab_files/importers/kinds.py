"""Which kind of file this is, by its first bytes, and the reader for it."""

from collections.abc import Callable, Iterator
from pathlib import Path

from slab_core.errors import refuse
from slab_core.numerics.grid import Floats
from slab_files.importers.e57 import open_e57
from slab_files.importers.las import open_las
from slab_files.importers.ply import open_ply
from slab_files.importers.points import PointFile
from slab_files.importers.refusals import empty, unknown
from slab_files.importers.text import open_text

Opener = Callable[..., PointFile]

MAGIC: tuple[tuple[bytes, Opener], ...] = (
    (b"LASF", open_las),
    (b"ASTM-E57", open_e57),
    (b"ply\n", open_ply),
    (b"ply\r\n", open_ply),
)


def open_points(*, path: Path) -> PointFile:
    """A file of points of any kind that is read here. Raises InputRefused for others."""
    with path.open("rb") as file:
        head = file.read(4096)
    if not head:
        raise empty("The file is empty.")
    for magic, opener in MAGIC:
        if head.startswith(magic):
            return opener(path=path)
    if b"\0" in head or not _is_text(head):
        raise unknown("The file is neither LAS, LAZ, E57 or PLY nor lines of x, y and z.")
    return open_text(path=path)


def _is_text(head: bytes) -> bool:
    try:
        head.decode()
    except UnicodeDecodeError as problem:
        # A character may be cut at the end of what was read.
        return problem.start >= len(head) - 3
    return True


def in_metres(*, source: PointFile, unit_m: float | None) -> Iterator[Floats]:
    """The points in metres: by the unit given, else the file's own, else as they are.

    Raises InputRefused when the unit is no length, or another than the file's own.
    """
    if unit_m is not None and not 0.0 < unit_m < 1e6:
        raise refuse(code="scan-file-unit", detail=f"The unit of a file cannot be {unit_m} m.")
    if unit_m and source.unit_m and abs(unit_m / source.unit_m - 1) > 1e-4:
        detail = f"The file says that its unit is {source.unit_m:.7g} m, the request {unit_m:.7g} m."
        raise refuse(code="scan-file-unit", detail=f"{detail} Leave the unit out, or set the file right.")
    factor = unit_m or source.unit_m or 1.0
    for points in source.chunks():
        if factor != 1.0:
            points *= factor
        yield points
