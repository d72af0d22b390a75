"""Posted rooms as the core's rooms: joints and keep-out zones, in the document's units."""

import json

import pytest

from slab_api.intake.reader import Reader
from slab_api.intake.rooms import read_room
from slab_api.schemas.rooms import RoomDocument
from slab_api.schemas.units import UnitsDocument


def _room(*joints: dict[str, object]) -> RoomDocument:
    posted = {
        "id": "garden",
        "name": "Garden room",
        "outline": [[0, 0], [14, 0], [14, 11], [0, 11]],
        "joints": joints,
    }
    return RoomDocument.model_validate_json(json.dumps(posted))


def test_joints_are_read_in_the_documents_units() -> None:
    reader = Reader(units=UnitsDocument(length="ft"))
    posted = _room({"id": "cut", "kind": "control", "from": [0, "5' 6\""], "to": ["14'", 5.5]})
    (joint,) = read_room(posted, id="garden", reader=reader, at=("rooms", 0)).joints
    assert reader.faults == []
    assert joint.start == pytest.approx((0.0, 5.5 * 0.3048))
    assert joint.end == pytest.approx((14 * 0.3048, 5.5 * 0.3048))


@pytest.mark.parametrize(
    ("kind", "said", "moves"),
    [
        ("isolation", None, True),
        ("isolation", False, False),
        ("control", None, False),
        ("control", True, True),
    ],
)
def test_an_isolation_joint_moves_unless_said_otherwise(kind: str, said: bool | None, moves: bool) -> None:
    reader = Reader(units=UnitsDocument(length="ft"))
    posted = _room({"id": "cut", "kind": kind, "from": [0, 5], "to": [14, 5], "moves": said})
    (joint,) = read_room(posted, id="garden", reader=reader, at=("rooms", 0)).joints
    assert joint.moves is moves


def test_an_end_that_is_no_length_is_a_fault_at_its_place() -> None:
    reader = Reader(units=UnitsDocument(length="ft"))
    posted = _room({"id": "cut", "kind": "control", "from": [0, 5], "to": ["14 ells", 5]})
    read_room(posted, id="garden", reader=reader, at=("rooms", 0))
    assert [fault.pointer for fault in reader.faults] == ["/rooms/0/joints/0/to/0"]


def test_keep_out_zones_are_read_in_the_documents_units_and_may_be_filled_unless_said_otherwise() -> None:
    reader = Reader(units=UnitsDocument(length="ft"))
    corner = [[0, 0], ["2 ft", 0], [2, "36 in"]]
    zones = [
        {"id": "pipes", "reason": "heating-pipes", "outline": corner},
        {"id": "drain", "reason": "outlet", "outline": corner, "no_fill": True},
    ]
    posted = RoomDocument.model_validate_json(
        json.dumps({**_room().model_dump(mode="json"), "keep_outs": zones})
    )
    pipes, drain = read_room(posted, id="garden", reader=reader, at=("rooms", 0)).keep_outs
    assert reader.faults == []
    assert pipes.outline[2] == pytest.approx((2 * 0.3048, 3 * 0.3048))
    assert (pipes.reason, pipes.fills, drain.fills) == ("heating-pipes", True, False)


def test_an_obstacle_has_a_range_of_heights_for_its_sides() -> None:
    reader = Reader(units=UnitsDocument(length="ft"))
    hearth = {
        "id": "hearth",
        "kind": "hearth",
        "outline": [[0, 0], [4, 0], [4, 2]],
        "threshold": {"height": "1/2 in to 3/4 in"},
    }
    whole = _room().model_dump(mode="json")
    posted = RoomDocument.model_validate_json(json.dumps({**whole, "obstacles": [hearth]}))
    (obstacle,) = read_room(posted, id="garden", reader=reader, at=("rooms", 0)).obstacles
    assert reader.faults == []
    assert obstacle.threshold is not None
    assert (obstacle.threshold.low_m, obstacle.threshold.high_m) == pytest.approx((0.0127, 0.01905))
    reversed_range = {**hearth, "threshold": {"height": ["1 in", "1/2 in"]}}
    posted = RoomDocument.model_validate_json(json.dumps({**whole, "obstacles": [reversed_range]}))
    read_room(posted, id="garden", reader=reader, at=("rooms", 0))
    assert [fault.pointer for fault in reader.faults] == ["/rooms/0/obstacles/0/threshold/height"]
