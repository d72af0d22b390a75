"""What a surveyor says of a file of scanned points."""

from typing import Annotated, Any

from pydantic import ConfigDict, Field

from slab_api.schemas.base import Document, Label, Length, Name
from slab_api.schemas.units import UnitName, UnitsDocument

Spot = Annotated[
    tuple[Length, Length, Length],
    Field(strict=False, description="x, y and height; the height in the unit of heights."),
]


class ScanTargetDocument(Document):
    """A mark that the scan shows. Marks are matched by their ids, with the job and with other scans."""

    id: Label
    scanned: Annotated[Spot, Field(description="Where the scan shows it.")]
    site: Annotated[
        Spot | None, Field(description="Where it is in the job's coordinates, if that is known.")
    ] = None


class ScanPlaceDocument(Document):
    """Where a level scan stands without targets: one scanned place, its place in the job, and the turn."""

    scanned: Spot
    site: Spot
    turn_degrees: Annotated[
        float, Field(ge=-360, le=360, description="From the scan to the job, counter-clockwise from above.")
    ] = 0.0


SCAN_EXAMPLE: dict[str, Any] = {
    "name": "Living room, from the hall door",
    "units": {"length": "m"},
    "targets": [
        {"id": "T1", "scanned": [12.041, 3.77, 101.204], "site": [0.3, 0.2, 1.2]},
        {"id": "T2", "scanned": [15.93, 4.115, 100.981], "site": [4.2, 0.25, 0.98]},
    ],
}


class ScanPatch(Document):
    """What the file does not say itself. A field that is null is taken back."""

    name: Name | None = None
    units: Annotated[
        UnitsDocument | None, Field(description="Units of bare numbers here; else the survey's.")
    ] = None
    use: Annotated[
        bool | None, Field(description="False leaves the scan out of estimates; it stays kept.")
    ] = None
    file_unit: Annotated[
        UnitName | None,
        Field(description="Unit of the file's numbers, where the file does not say it; else the metre."),
    ] = None
    bias: Annotated[
        Length | None,
        Field(
            description="Standard deviation of the part of the scanner's error that does not average down; "
            "else 1.5 mm."
        ),
    ] = None
    targets: Annotated[tuple[ScanTargetDocument, ...], Field(max_length=1000)] | None = None
    place: ScanPlaceDocument | None = None
    model_config = ConfigDict(json_schema_extra={"examples": [SCAN_EXAMPLE]})
