"""Rooms as a client draws them."""

from typing import Annotated, Any

from pydantic import ConfigDict, Field, PlainValidator, WithJsonSchema

from slab_api.schemas.base import LENGTH_SCHEMA, Document, Label, Name, NewId, Place, number_or_text
from slab_api.schemas.units import UnitsDocument
from slab_core.rooms.model import JointKind, KeepOutReason, ObstacleKind, TransitionKind


def _text_or_pair(value: Any) -> Any:
    """A range is read later, with the document's units."""
    if isinstance(value, str) and 0 < len(value) <= 130:
        return value
    if isinstance(value, list) and len(value) == 2:
        return [number_or_text(end) for end in value]
    raise ValueError("a range is [low, high], or a text such as 12 mm ± 1 mm")


Ring = Annotated[
    list[Place],
    Field(
        max_length=2000,
        description="Vertices in order, either way round; the last is not the first again. At least three.",
    ),
]
HeightRange = Annotated[
    Any,
    PlainValidator(_text_or_pair),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "string", "minLength": 1, "maxLength": 130},
                {"type": "array", "items": LENGTH_SCHEMA, "minItems": 2, "maxItems": 2},
            ],
            "description": '[low, high], or a text such as "1/2 in to 3/4 in" or "12 mm ± 1 mm".',
        }
    ),
]


class ThresholdDocument(Document):
    """How high the finished floor may be along an opening, above the datum."""

    height: HeightRange
    transition: TransitionKind = "t-molding"


class OpeningDocument(Document):
    """A doorway: a line on the outline, into another room of the job or out of it."""

    id: Label
    from_: Annotated[Place, Field(alias="from")]
    to: Place
    to_room: Annotated[
        Label | None, Field(description="Id of the room it leads into; absent: out of the job.")
    ] = None
    threshold: ThresholdDocument | None = None
    adjoining_floor: Annotated[str, Field(max_length=200, description="What lies on the other side.")] = ""


class SideThresholdDocument(Document):
    """How high the finished floor may be along all sides of an obstacle that it runs up to, above the datum;
    sides along walls and other obstacles are left out. No ramp is made there and no strip counted."""

    height: HeightRange


class ObstacleDocument(Document):
    """Something that stands on the slab; the covering is cut around it. With a `threshold`, as a hearth whose
    edge the finished floor has to meet, every correction keeps the floor within its range there."""

    id: Label
    kind: ObstacleKind = "other"
    outline: Ring
    threshold: SideThresholdDocument | None = None


class JointDocument(Document):
    """A straight joint of the slab, across which its height may step and its slope may change.

    Both ends lie in the room or on its outline; a bent joint is given as one for each straight part.
    """

    id: Label
    kind: JointKind
    from_: Annotated[Place, Field(alias="from")]
    to: Place
    moves: Annotated[
        bool | None,
        Field(
            description="Whether the slabs on both sides still move against each other; absent: "
            "an isolation joint moves, others do not."
        ),
    ] = None


class KeepOutDocument(Document):
    """A part of the slab in which nothing is ground and nothing drilled, in any correction: over heating
    pipes, tendons or a membrane, along a joint that moves, around an outlet or drain.

    Nothing is ground on the nodes of the grid within it and up to one step around it. Grinding for bond
    leaves it out too. Zones may overlap; where a correction cannot be done because of one, the refusal names
    it.
    """

    id: Label
    reason: Annotated[
        KeepOutReason, Field(description="Why nothing is ground here; it decides which caution is shown.")
    ]
    outline: Ring
    no_fill: Annotated[
        bool,
        Field(
            description="Whether nothing is poured or trowelled here either, as over an outlet, a drain "
            "or an expansion strip: the slab then stays as it is."
        ),
    ] = False


class RoomParts(Document):
    """What every room has, whether inline or in a record of its own."""

    name: Name
    outline: Ring
    holes: Annotated[tuple[Ring, ...], Field(max_length=200)] = ()
    openings: Annotated[tuple[OpeningDocument, ...], Field(max_length=200)] = ()
    obstacles: Annotated[tuple[ObstacleDocument, ...], Field(max_length=200)] = ()
    phase: Annotated[int, Field(ge=1, le=99, description="Part of the job in which the room is done.")] = 1
    joints: Annotated[
        tuple[JointDocument, ...],
        Field(max_length=100, description="Lines where the surface of the slab may step or kink."),
    ] = ()
    keep_outs: Annotated[
        tuple[KeepOutDocument, ...],
        Field(max_length=100, description="Where nothing is ground or drilled, or nothing done at all."),
    ] = ()


ROOM_EXAMPLE: dict[str, Any] = {
    "name": "Garden room",
    "outline": [[0, 0], ["14' 6\"", 0], ["14' 6\"", "11' 3-1/2\""], [0, "11' 3-1/2\""]],
    "openings": [
        {
            "id": "hall door",
            "from": [3, 0],
            "to": [6, 0],
            "threshold": {"height": ["1/2 in", "3/4 in"], "transition": "reducer"},
            "adjoining_floor": "tile in the hall",
        }
    ],
    "obstacles": [
        {"id": "column", "kind": "column", "outline": [[9, 5], [10, 5], [10, 6], [9, 6]]},
    ],
    "joints": [
        {
            "id": "saw cut",
            "kind": "control",
            "from": [0, "8' 2\""],
            "to": ["14' 6\"", "8' 2\""],
            "moves": False,
        },
    ],
    "keep_outs": [
        {
            "id": "pipes",
            "reason": "heating-pipes",
            "outline": [[0, 0], [2, 0], [2, 3], [0, 3]],
        },
    ],
}


RoomUnits = Annotated[
    UnitsDocument | None,
    Field(description="Units of bare numbers here; absent: the job's at the time the room is added."),
]


class RoomDocument(RoomParts):
    """One room of an inline job."""

    id: Label
    model_config = ConfigDict(json_schema_extra={"examples": [{"id": "garden", **ROOM_EXAMPLE}]})


class RoomCreate(RoomParts):
    """A room to be added to a job's record; rooms refer to each other by their ids."""

    id: NewId = None
    units: RoomUnits = None
    model_config = ConfigDict(json_schema_extra={"examples": [ROOM_EXAMPLE]})


class RoomPatch(Document):
    """What to change of a room; what is absent stays."""

    name: Name | None = None
    outline: Ring | None = None
    holes: Annotated[list[Ring], Field(max_length=200)] | None = None
    openings: Annotated[list[OpeningDocument], Field(max_length=200)] | None = None
    obstacles: Annotated[list[ObstacleDocument], Field(max_length=200)] | None = None
    phase: Annotated[int, Field(ge=1, le=99)] | None = None
    joints: Annotated[list[JointDocument], Field(max_length=100)] | None = None
    keep_outs: Annotated[list[KeepOutDocument], Field(max_length=100)] | None = None
    units: RoomUnits = None
    model_config = ConfigDict(
        json_schema_extra={"examples": [{"name": "Garden room, south half", "phase": 2}]}
    )
