"""Posted rooms as the core's rooms."""

from slab_api.intake.reader import Path, Reader
from slab_api.schemas.rooms import (
    JointDocument,
    KeepOutDocument,
    ObstacleDocument,
    OpeningDocument,
    RoomParts,
    SideThresholdDocument,
    ThresholdDocument,
)
from slab_core.rooms.model import Joint, KeepOut, Obstacle, Opening, Room, Threshold
from slab_core.units.lengths import LengthRefused
from slab_core.units.ranges import parse_height_range


def read_room(room: RoomParts, *, id: str, reader: Reader, at: Path) -> Room:
    """One room; its geometry is checked later, with the other rooms."""
    return Room(
        id=id,
        name=room.name,
        outline=reader.ring(room.outline, (*at, "outline")),
        holes=tuple(reader.ring(hole, (*at, "holes", i)) for i, hole in enumerate(room.holes)),
        openings=tuple(
            _opening(opening, reader=reader, at=(*at, "openings", i))
            for i, opening in enumerate(room.openings)
        ),
        obstacles=tuple(
            _obstacle(obstacle, reader=reader, at=(*at, "obstacles", i))
            for i, obstacle in enumerate(room.obstacles)
        ),
        phase=room.phase,
        joints=tuple(
            _joint(joint, reader=reader, at=(*at, "joints", i)) for i, joint in enumerate(room.joints)
        ),
        keep_outs=tuple(
            _keep_out(zone, reader=reader, at=(*at, "keep_outs", i)) for i, zone in enumerate(room.keep_outs)
        ),
    )


def _opening(opening: OpeningDocument, *, reader: Reader, at: Path) -> Opening:
    return Opening(
        id=opening.id,
        start=reader.point(opening.from_, (*at, "from")),
        end=reader.point(opening.to, (*at, "to")),
        to_room=opening.to_room,
        threshold=None
        if opening.threshold is None
        else _threshold(opening.threshold, reader=reader, at=(*at, "threshold", "height")),
        adjoining_floor=opening.adjoining_floor,
    )


def _threshold(threshold: ThresholdDocument, *, reader: Reader, at: Path) -> Threshold:
    low, high = _height_range(threshold, reader=reader, at=at)
    return Threshold(low_m=low, high_m=high, transition=threshold.transition)


def _height_range(
    threshold: ThresholdDocument | SideThresholdDocument, *, reader: Reader, at: Path
) -> tuple[float, float]:
    nothing = (float("nan"), float("nan"))
    if not isinstance(threshold.height, str):
        low, high = (reader.length(end, (*at, i), vertical=True) for i, end in enumerate(threshold.height))
        if low > high:
            reader.fault("the range starts above its end; write the lower height first", at)
        return low, high
    try:
        return parse_height_range(threshold.height, unit=reader.height_unit)
    except LengthRefused as refused:
        reader.fault(refused.detail, at)
        return nothing


def _obstacle(obstacle: ObstacleDocument, *, reader: Reader, at: Path) -> Obstacle:
    side = None
    if obstacle.threshold is not None:
        low, high = _height_range(obstacle.threshold, reader=reader, at=(*at, "threshold", "height"))
        side = Threshold(low_m=low, high_m=high, transition="none")
    return Obstacle(
        id=obstacle.id,
        kind=obstacle.kind,
        outline=reader.ring(obstacle.outline, (*at, "outline")),
        threshold=side,
    )


def _joint(joint: JointDocument, *, reader: Reader, at: Path) -> Joint:
    return Joint(
        id=joint.id,
        kind=joint.kind,
        start=reader.point(joint.from_, (*at, "from")),
        end=reader.point(joint.to, (*at, "to")),
        moves=joint.kind == "isolation" if joint.moves is None else joint.moves,
    )


def _keep_out(zone: KeepOutDocument, *, reader: Reader, at: Path) -> KeepOut:
    return KeepOut(
        id=zone.id,
        reason=zone.reason,
        outline=reader.ring(zone.outline, (*at, "outline")),
        fills=not zone.no_fill,
    )
