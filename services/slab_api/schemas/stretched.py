"""Readings down from a stretched line."""

from typing import Annotated, Any

from pydantic import ConfigDict, Field

from slab_api.schemas.base import Document, Label, Length, LengthColumn, LengthOrColumn, Place
from slab_core.surveys.model import LineEnds

STRETCHED_EXAMPLE: dict[str, Any] = {
    "id": "window to hearth",
    "ends": "floor",
    "from": [1, 2],
    "to": [13, 9],
    "from_height": "1 1/2 in",
    "to_height": "1 1/2 in",
    "distance": [3, 6, 9, 12],
    "value": ['1 5/8"', '1 11/16"', '1 3/4"', '1 9/16"'],
    "sag": "1/32 in",
}


class StretchedLineDocument(Document):
    """Distances down from a stretched line to the floor, as columns: `value` measured at `distance` from
    the line's start. It hangs through in its middle by `sag`, or as its mass and tension say; without
    either a usual mason's line is assumed and told."""

    id: Label
    ends: Annotated[
        LineEnds,
        Field(description="floor: the ends stand on blocks on the floor; elevation: at known heights."),
    ] = "floor"
    from_: Annotated[Place, Field(alias="from")]
    to: Place
    from_height: Annotated[
        Length, Field(description="Of the line's start, above the floor there or above the datum.")
    ]
    to_height: Annotated[Length, Field(description="Of the line's end, likewise.")]
    distance: LengthColumn
    value: LengthColumn
    sd: LengthOrColumn | None = None
    end_sd: Annotated[Length, Field(description="How well each end's height is known.")] = 0.0
    position_sd: Length = 0.0
    sag: Length | None = None
    kg_per_metre: Annotated[float, Field(gt=0, le=10, description="Mass of the line.")] | None = None
    tension_n: Annotated[float, Field(gt=0, le=10_000, description="Pull of the line in newtons.")] | None = (
        None
    )
    model_config = ConfigDict(json_schema_extra={"examples": [STRETCHED_EXAMPLE]})
