"""What was measured, as columns."""

from typing import Annotated, Any

from pydantic import ConfigDict, Field, PlainValidator, WithJsonSchema

from slab_api.schemas.base import Document, Label, Length, LengthColumn, LengthOrColumn, NewId, Place
from slab_api.schemas.peg_tests import PegTestDocument
from slab_api.schemas.stretched import STRETCHED_EXAMPLE, StretchedLineDocument
from slab_api.schemas.units import UnitsDocument
from slab_core.surveys.model import HeightKind

SetupColumn = Annotated[
    Any,
    PlainValidator(lambda value: value),
    WithJsonSchema({"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}]}),
]
"""The setup of all readings, or of each."""

NumberColumn = Annotated[
    list[Any],
    PlainValidator(lambda value: value),
    WithJsonSchema({"type": "array", "items": {"type": "number", "minimum": 0, "maximum": 1}}),
]
NumberOrColumn = Annotated[
    Any,
    PlainValidator(lambda value: value),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "number"},
                {"type": "array", "items": {"type": "number", "minimum": 0, "maximum": 1}},
            ]
        }
    ),
]


WorkName = Annotated[str, Field(min_length=1, max_length=200)]


class BenchmarkDocument(Document):
    """A fixed reference whose height above the datum is known."""

    id: Label
    elevation: Length
    sd: Length = 0.0


class SetupDocument(Document):
    """One position of the level. Without `sd` the instrument's usual accuracy counts."""

    id: Label
    instrument: Annotated[
        str,
        Field(
            max_length=64,
            description="digital-level, optical-level, rotary-laser, line-laser, or another with its sd",
        ),
    ] = "optical-level"
    sd: Annotated[Length | None, Field(description="Standard deviation of one reading.")] = None
    place: Annotated[
        Place | None,
        Field(description="Where it stands in the plan; a two-peg check then corrects all its readings."),
    ] = None


class SightDocument(Document):
    """A rod reading from a setup to a benchmark or to a turning point shared with another setup."""

    setup: Label
    target: Label
    rod: Length
    distance: Annotated[
        Length | None, Field(description="From the level to the rod, for what a two-peg check finds.")
    ] = None


class ReadingsDocument(Document):
    """Heights at places, as columns of equal length.

    kind rod: `value` is read off the rod (bigger is lower) from a setup; elevation: above the datum.
    """

    kind: HeightKind = "elevation"
    x: LengthColumn
    y: LengthColumn
    value: LengthColumn
    setup: SetupColumn | None = None
    sd: LengthOrColumn | None = None
    position_sd: Annotated[
        LengthOrColumn | None, Field(description="How well the places are known; 2 in on a grid.")
    ] = None
    model_config = ConfigDict(
        json_schema_extra={
            "examples": [
                {
                    "kind": "rod",
                    "setup": "A",
                    "x": [1, 3, 5, 7],
                    "y": [1, 1, 1, 1],
                    "value": ['48 3/8"', '48 7/16"', '48 5/8"', '48 1/2"'],
                    "position_sd": "2 in",
                }
            ]
        }
    )


class GapsDocument(Document):
    """Gaps under a straightedge, as columns: the edge from (x0, y0) to (x1, y1), the gap at the share `at`
    of it. It rests on both its ends, or at the shares `rest0` and `rest1`: on blocks, or on a crown that it
    rocks on and the end that is held down."""

    x0: LengthColumn
    y0: LengthColumn
    x1: LengthColumn
    y1: LengthColumn
    gap: LengthColumn
    at: NumberOrColumn = 0.5
    rest0: NumberOrColumn | None = None
    rest1: NumberOrColumn | None = None
    sd: LengthOrColumn | None = None


class LineDocument(Document):
    """Heights in order along a straight line, `spacing` apart from `from` towards `to`."""

    id: Label
    kind: HeightKind = "elevation"
    from_: Annotated[Place, Field(alias="from")]
    to: Place
    spacing: Length
    value: LengthColumn
    setup: Label | None = None
    sd: Length | None = None
    position_sd: Length = 0.0


class SurveyParts(Document):
    """Everything measured in one visit."""

    setups: Annotated[tuple[SetupDocument, ...], Field(max_length=1000)] = ()
    sights: Annotated[tuple[SightDocument, ...], Field(max_length=10_000)] = ()
    readings: Annotated[tuple[ReadingsDocument, ...], Field(max_length=1000)] = ()
    gaps: Annotated[tuple[GapsDocument, ...], Field(max_length=1000)] = ()
    lines: Annotated[tuple[LineDocument, ...], Field(max_length=1000)] = ()
    stretched_lines: Annotated[tuple[StretchedLineDocument, ...], Field(max_length=1000)] = ()
    peg_tests: Annotated[tuple[PegTestDocument, ...], Field(max_length=100)] = ()
    after: Annotated[
        tuple[WorkName, ...],
        Field(
            max_length=10_000,
            description="Of a survey taken while work goes on: what of the plan that is followed was done by "
            "then, by the ids of its areas, pours and patches, or all of a floor's as `<floor>-grinding`, "
            "`<floor>-pours`, `<floor>-patches`. What earlier plans had done need not be named again.",
        ),
    ] = ()


class SurveyDocument(SurveyParts):
    """A survey of an inline job."""

    id: Label


SURVEY_EXAMPLE: dict[str, Any] = {
    "units": {"length": "ft", "height": "in"},
    "setups": [{"id": "A", "instrument": "optical-level", "place": [4, 6]}],
    "sights": [{"setup": "A", "target": "door sill", "rod": '46 1/4"', "distance": "9 ft"}],
    "peg_tests": [
        {
            "middle": {"rod_a": '52 1/8"', "rod_b": '50 7/8"', "distance_a": 40, "distance_b": 40},
            "near": {"rod_a": '48 1/2"', "rod_b": '47 3/8"', "distance_a": 5, "distance_b": 85},
        }
    ],
    "stretched_lines": [STRETCHED_EXAMPLE],
}


class SurveyCreate(SurveyParts):
    """A survey to be added to a job's record. Readings may be in it, or follow in chunks, or both."""

    id: NewId = None
    units: Annotated[
        UnitsDocument | None,
        Field(description="Units of bare numbers here and in the chunks; else the job's."),
    ] = None
    model_config = ConfigDict(json_schema_extra={"examples": [SURVEY_EXAMPLE]})


class SurveyClose(Document):
    """Says that the upload is complete. Chunks are numbered from 1."""

    chunks: Annotated[int, Field(ge=0, le=100_000, description="How many chunks the survey has in all.")]
    scans: Annotated[int, Field(ge=0, le=1000, description="How many scans the survey has in all.")] = 0
    model_config = ConfigDict(json_schema_extra={"examples": [{"chunks": 2}]})
