"""Stretches of wall that get base in one run: from corner, casing or hearth to the next."""

from dataclasses import dataclass

from slab_core.rooms.contents import SLACK_M
from slab_core.rooms.edges import Edge, cosine, edges, length_m, taken
from slab_core.rooms.enclosed import border
from slab_core.rooms.model import Room
from slab_core.rooms.openings import ON_OUTLINE_M
from slab_core.takeoff.model import TrimEnd
from slab_core.takeoff.sticks import Run

_STRAIGHT_COSINE = 0.995
"""Up to 6° base is bent around and not mitred (from memory)."""

_LEAST_M = 0.005
_AT_END_M = 0.001


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stretch:
    """Free wall on one edge; `first` and `last`: it reaches the edge's own ends."""

    edge: int
    length_m: float
    first: bool
    last: bool


def base_runs(*, room: Room, mitre_m: float) -> tuple[Run, ...]:
    """Runs of one room, each end in a corner longer by `mitre_m`, and how their ends meet."""
    openings = [(opening.start, opening.end) for opening in room.openings]
    standing = [side for obstacle in room.obstacles for side in edges(obstacle.outline)]
    return tuple(
        run
        for name, sides in border(room)
        for run in _runs_of(
            sides,
            [s for i, side in enumerate(sides) for s in _free(i, side, openings, standing)],
            label=room.id if name == "outline" else f"{room.id} {name}",
            mitre_m=mitre_m,
            floor_on_left=(_turn(sides) > 0.0) == (name == "outline"),
        )
    )


def _free(index: int, edge: Edge, openings: list[Edge], standing: list[Edge]) -> list[_Stretch]:
    """What neither openings nor what stands against the wall take of an edge."""
    spans = sorted(
        (*taken(edge, by=openings, within_m=ON_OUTLINE_M), *taken(edge, by=standing, within_m=SLACK_M))
    )
    size, at = length_m(edge), 0.0
    stretches = []
    for low, high in (*spans, (size, size)):
        if low - at > _LEAST_M:
            stretches.append(
                _Stretch(edge=index, length_m=low - at, first=at < _AT_END_M, last=low > size - _AT_END_M)
            )
        at = max(at, high)
    return stretches


def _turn(sides: tuple[Edge, ...]) -> float:
    """Twice the area within a ring, positive counter-clockwise."""
    return sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in sides)


def _runs_of(
    sides: tuple[Edge, ...], free: list[_Stretch], *, label: str, mitre_m: float, floor_on_left: bool
) -> list[Run]:
    """Stretches joined where the wall goes straight on; the first of the ring may go on from its last."""
    groups: list[list[_Stretch]] = []
    for stretch in free:
        if groups and _straight_on(groups[-1][-1], stretch, sides):
            groups[-1].append(stretch)
        else:
            groups.append([stretch])
    if len(groups) > 1 and _straight_on(groups[-1][-1], groups[0][0], sides):
        groups[0] = groups.pop() + groups[0]
    runs: list[Run] = []
    for group in groups:
        name = f"{label} {group[0].edge + 1}-{(group[-1].edge + 1) % len(sides) + 1}"
        again = sum(run.where.split(" part ")[0] == name for run in runs)
        start, end = _ends(group, free, sides, floor_on_left=floor_on_left)
        runs.append(
            Run(
                where=f"{name} part {again + 1}" if again else name,
                length_m=sum(s.length_m for s in group) + mitre_m * ((start != "square") + (end != "square")),
                start=start,
                end=end,
                from_right=floor_on_left,
            )
        )
    return runs


def _straight_on(one: _Stretch, other: _Stretch, sides: tuple[Edge, ...]) -> bool:
    return _meet(one, other, sides) and cosine(sides[one.edge], sides[other.edge]) > _STRAIGHT_COSINE


def _meet(one: _Stretch, other: _Stretch, sides: tuple[Edge, ...]) -> bool:
    return one.last and other.first and other.edge == (one.edge + 1) % len(sides)


def _ends(
    group: list[_Stretch], free: list[_Stretch], sides: tuple[Edge, ...], *, floor_on_left: bool
) -> tuple[TrimEnd, TrimEnd]:
    """How a run begins and ends: in a corner where base goes on around it, else square."""
    around = len(sides) == len(group) and _straight_on(group[-1], group[0], sides)
    before = any(_meet(other, group[0], sides) for other in free) and not around
    after = any(_meet(group[-1], other, sides) for other in free) and not around
    first, last = group[0].edge, group[-1].edge
    return (
        _corner(sides[first - 1], sides[first], floor_on_left=floor_on_left) if before else "square",
        _corner(sides[last], sides[(last + 1) % len(sides)], floor_on_left=floor_on_left)
        if after
        else "square",
    )


def _corner(one: Edge, other: Edge, *, floor_on_left: bool) -> TrimEnd:
    (ax, ay), (bx, by) = one
    (cx, cy), (dx, dy) = other
    turns_left = (bx - ax) * (dy - cy) - (by - ay) * (dx - cx) > 0.0
    return "inside" if turns_left == floor_on_left else "outside"
