"""A scan's record as the core's scan."""

from collections.abc import Sequence
from math import radians
from uuid import UUID

from slab_api.bodies.documents import stored_document
from slab_api.intake.reader import Path, Reader
from slab_api.problems import invalid
from slab_api.schemas.base import Document
from slab_api.schemas.scans import ScanPatch, ScanPlaceDocument
from slab_api.schemas.units import UnitsDocument
from slab_app.actions.scans import scan_key
from slab_core.scans.model import Place, Placement, Scan, Target
from slab_core.surveys.instruments import INSTRUMENTS
from slab_core.units.lengths import METRES_PER, LengthRefused
from slab_core.units.parse import read_unit
from slab_store.scans import ScanRecord


def check_scan(document: ScanPatch, *, units: UnitsDocument) -> None:
    """Raises ApiProblem for what cannot be; `units` are the survey's."""
    reader = Reader(units=document.units or units)
    _read(document, id="", sha256="", file="", reader=reader, at=())
    if reader.faults:
        raise invalid(tuple(reader.faults))


def read_scan(
    record: ScanRecord, *, organisation: UUID, units: UnitsDocument, reader: Reader, at: Path
) -> Scan:
    """The scan of a record; `units` are the survey's. Faults are noted with `reader`."""
    document = stored_document(ScanPatch, record.document)
    own = Reader(units=document.units or units)
    scan = _read(
        document,
        id=str(record.id),
        sha256=record.sha256.hex(),
        file=scan_key(organisation=organisation, scan=record.id, sha256=record.sha256),
        reader=own,
        at=at,
    )
    reader.faults += own.faults
    return scan


def is_used(record: ScanRecord) -> bool:
    """Whether estimates take the scan."""
    return stored_document(ScanPatch, record.document).use is not False


def _read(document: ScanPatch, *, id: str, sha256: str, file: str, reader: Reader, at: Path) -> Scan:
    targets = document.targets or ()
    _check_names(targets, reader=reader, at=(*at, "targets"))
    if targets and document.place:
        reader.fault("give targets or a place; the scan would be placed twice", (*at, "place"))
    bias = INSTRUMENTS["scanner"].sd_m
    if document.bias is not None:
        bias = reader.positive(document.bias, (*at, "bias"), vertical=True)
    return Scan(
        id=id,
        sha256=sha256,
        file=file,
        unit_m=_unit(document.file_unit, reader=reader, at=(*at, "file_unit")),
        placement=_placement(document.place, reader=reader, at=(*at, "place")),
        targets=tuple(
            Target(
                id=target.id,
                scanned_m=_spot(target.scanned, reader=reader, at=(*at, "targets", i, "scanned")),
                site_m=target.site and _spot(target.site, reader=reader, at=(*at, "targets", i, "site")),
            )
            for i, target in enumerate(targets)
        ),
        bias_sd_m=bias,
    )


def _check_names(targets: Sequence[Document], *, reader: Reader, at: Path) -> None:
    seen: set[str] = set()
    for i, target in enumerate(targets):
        name = str(getattr(target, "id", ""))
        if name in seen:
            reader.fault(f"the target {name!r} is given twice; give each mark its own id", (*at, i, "id"))
        seen.add(name)


def _unit(name: str | None, *, reader: Reader, at: Path) -> float | None:
    if name is None:
        return None
    try:
        return METRES_PER[read_unit(name)]
    except LengthRefused as refused:
        reader.fault(refused.detail, at)
        return None


def _placement(place: ScanPlaceDocument | None, *, reader: Reader, at: Path) -> Placement | None:
    if place is None:
        return None
    return Placement(
        origin_m=_spot(place.scanned, reader=reader, at=(*at, "scanned")),
        turn_rad=radians(place.turn_degrees),
        shift_m=_spot(place.site, reader=reader, at=(*at, "site")),
    )


def _spot(spot: Sequence[float | str], *, reader: Reader, at: Path) -> Place:
    x, y = (reader.length(spot[axis], (*at, axis)) for axis in (0, 1))
    return x, y, reader.length(spot[2], (*at, 2), vertical=True)
