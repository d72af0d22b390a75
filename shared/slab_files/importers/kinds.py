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
from slab_files.scan_kinds import HEAD_BYTES, READ_HERE, ScanKind, scan_kind

_OPENERS: dict[ScanKind, Callable[..., PointFile]] = {
    "las": open_las,
    "e57": open_e57,
    "ply": open_ply,
    "text": open_text,
}


def open_points(*, path: Path) -> PointFile:
    """A file of points of any kind that is read here. Raises InputRefused for others."""
    with path.open("rb") as file:
        head = file.read(HEAD_BYTES)
    if not head:
        raise empty("The file is empty.")
    kind = scan_kind(head)
    if kind is None:
        raise unknown(f"The file is of no kind that is read here: {READ_HERE}.")
    return _OPENERS[kind](path=path)


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
