"""Rooms as the client measured them and the floors they join into. Lengths in metres."""

from dataclasses import dataclass
from typing import Literal

from slab_core.errors import Problem

Point = tuple[float, float]
Ring = tuple[Point, ...]
TransitionKind = Literal["flush", "t-molding", "reducer", "threshold", "none"]
ObstacleKind = Literal["column", "hearth", "island", "other"]
JointKind = Literal["control", "construction", "isolation"]
KeepOutReason = Literal["heating-pipes", "tendons", "membrane", "moving-joint", "outlet", "other"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Threshold:
    """The range that the top of the finished floor may have along a line, above the datum."""

    low_m: float
    high_m: float
    transition: TransitionKind = "t-molding"


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """A doorway: a line on the room's outline, into another room of the job or out of it."""

    id: str
    start: Point
    end: Point
    to_room: str | None = None
    threshold: Threshold | None = None
    adjoining_floor: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Obstacle:
    """Something that stands on the slab; the floor covering is cut around it. With a `threshold` its sides
    are met as doorways are."""

    id: str
    kind: ObstacleKind
    outline: Ring
    threshold: Threshold | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """A straight joint of the slab, across which its height may step and its slope may change.

    `moves`: the slabs on both sides still move against each other, so the joint goes up through the fill.
    """

    id: str
    kind: JointKind
    start: Point
    end: Point
    moves: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOut:
    """A part of the slab in which nothing is ground and nothing drilled; where it does not `fill`, nothing is
    filled either."""

    id: str
    reason: KeepOutReason
    outline: Ring
    fills: bool = True

    def said(self) -> str:
        """The zone as texts name it."""
        return f"keep-out zone “{self.id}” ({self.reason.replace('-', ' ')})"


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """One room. `outline` is open (the last vertex is not the first again), either way round."""

    id: str
    name: str
    outline: Ring
    holes: tuple[Ring, ...] = ()
    openings: tuple[Opening, ...] = ()
    obstacles: tuple[Obstacle, ...] = ()
    phase: int = 1
    joints: tuple[Joint, ...] = ()
    keep_outs: tuple[KeepOut, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Floor:
    """One continuous floor: one or more rooms joined through their openings.

    `shell` and `gaps` (everything that is not floor: holes and obstacles) are the joined shape,
    in the job's own coordinates, shell counter-clockwise. `wall_m` is the length of wall,
    without the openings.
    """

    id: str
    rooms: tuple[Room, ...]
    shell: Ring
    gaps: tuple[Ring, ...]
    area_m2: float
    wall_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Rooms:
    """Result of the rooms stage: every floor of the job, ordered by id."""

    floors: tuple[Floor, ...]
    problems: tuple[Problem, ...] = ()
