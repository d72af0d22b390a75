"""Nobody is walled in: checked on the floor itself with shapes of our own, not by rows and runs."""

from dataclasses import replace

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.layout.model import Layout
from slab_core.materials import starter
from slab_core.rooms.build import build_rooms
from slab_core.rooms.model import Floor, Obstacle, Opening, Room
from tests.laid_floors import floor_of, laid, pieces_on_floor, rectangle

ALONG_X = replace(starter.covering(), direction_deg=0.0)


def _door(id: str, start: tuple[float, float], end: tuple[float, float]) -> Opening:
    return Opening(id=id, start=start, end=end)


def _parts_without_way_out(floor: Floor, layout: Layout) -> list[float]:
    """Areas of bare floor, after each spread, from which a body 0.25 m wide cannot walk to a door."""
    shapes = pieces_on_floor(layout)
    doors = [shapely.LineString((o.start, o.end)) for room in floor.rooms for o in room.openings]
    stuck, fresh = [], shapely.Polygon()
    whole = shapely.Polygon(floor.shell, floor.gaps)
    for spread in layout.spreads:
        fresh = shapely.union_all([fresh, *(shapes[number - 1] for number in spread.pieces)])
        bare = whole.difference(fresh.buffer(0.02)).buffer(-0.12)
        stuck += [
            float(part.area)
            for part in shapely.get_parts(bare)
            if part.area > 0.05 and min(part.distance(door) for door in doors) > 0.6
        ]
    return stuck


@pytest.mark.parametrize("wall", ["first", "last", "side"])
def test_laying_starts_at_the_wall_from_which_it_ends_at_the_door(wall: str) -> None:
    door = {
        "first": _door("d", (1.0, 0.0), (1.9, 0.0)),
        "last": _door("d", (1.0, 6.0), (1.9, 6.0)),
        "side": _door("d", (5.0, 0.3), (5.0, 1.2)),
    }[wall]
    floor = floor_of(rectangle(0, 0, 5, 6), openings=(door,))
    layout = laid(floor, covering=ALONG_X)
    assert layout.direction_deg == (0.0 if wall == "last" else 180.0)
    assert _parts_without_way_out(floor, layout) == []
    assert "walled-in" not in {problem.code for problem in layout.problems}


def test_a_recess_beyond_the_only_door_is_told_with_its_rows() -> None:
    # Rows run along x. The door is in the side wall of the middle; two recesses lie above and below it.
    outline = (
        (0.0, 0.0), (2.0, 0.0), (2.0, 3.0), (6.0, 3.0), (6.0, 6.0), (2.0, 6.0), (2.0, 9.0), (0.0, 9.0),
    )  # fmt: skip
    floor = floor_of(outline, openings=(_door("d", (6.0, 4.0), (6.0, 4.9)),))
    layout = laid(floor, covering=ALONG_X)
    (told,) = [problem for problem in layout.problems if problem.code == "walled-in"]
    assert _parts_without_way_out(floor, layout) != []
    spread = int(told.detail.split("spread ")[1].split(" ")[0])
    assert 1 < spread < len(layout.spreads)
    assert f"to {layout.rows} from" in told.detail


def test_a_room_whose_door_nobody_named_is_not_found_fault_with() -> None:
    floor = floor_of(rectangle(0, 0, 5, 6))
    layout = laid(floor, covering=ALONG_X)
    assert layout.direction_deg == 0.0
    assert "walled-in" not in {problem.code for problem in layout.problems}


def test_floor_of_an_earlier_phase_may_be_walked_on() -> None:
    # The second room's only door leads into the first, which is laid a phase earlier and has the way out.
    first = Room(
        id="a", name="A", outline=rectangle(0, 0, 4, 4), phase=1,
        openings=(
            Opening(id="out", start=(0.0, 1.0), end=(0.0, 1.9)),
            Opening(id="in", start=(1.0, 4.0), end=(2.0, 4.0), to_room="b"),
        ),
    )  # fmt: skip
    second = Room(id="b", name="B", outline=rectangle(0, 4.12, 4, 8), phase=2)
    (floor,) = build_rooms(rooms=(first, second)).floors
    layout = laid(floor, covering=ALONG_X)
    assert [spread.phase for spread in layout.spreads] == sorted(s.phase for s in layout.spreads)
    told = [problem.detail for problem in layout.problems if problem.code == "walled-in"]
    assert not any("spread " + str(layout.spreads[-1].order) in detail for detail in told)


@st.composite
def _rooms(draw: st.DrawFn) -> Floor:
    """A room with a hearth at a wall and one door in any wall."""
    width, height = draw(st.floats(3.0, 6.0)), draw(st.floats(3.0, 6.0))
    at = draw(st.floats(0.2, 0.7))
    wall = draw(st.sampled_from(["south", "north", "west", "east"]))
    x, y = at * (width - 0.9), at * (height - 0.9)
    ends = {
        "south": ((x, 0.0), (x + 0.9, 0.0)),
        "north": ((x, height), (x + 0.9, height)),
        "west": ((0.0, y), (0.0, y + 0.9)),
        "east": ((width, y), (width, y + 0.9)),
    }[wall]
    side = draw(st.sampled_from([0.0, height - 0.5]))
    hearth = Obstacle(
        id="h", kind="hearth", outline=rectangle(width / 2 - 0.6, side, width / 2 + 0.6, side + 0.5)
    )
    return floor_of(rectangle(0, 0, width, height), obstacles=(hearth,), openings=(_door("d", *ends),))


@given(_rooms(), st.sampled_from([0.0, 90.0]))
@settings(max_examples=25, deadline=None)
def test_where_nothing_is_told_no_bare_floor_is_ever_without_a_door(floor: Floor, direction: float) -> None:
    layout = laid(floor, covering=replace(starter.covering(), direction_deg=direction))
    told = any(problem.code == "walled-in" for problem in layout.problems)
    assert told or _parts_without_way_out(floor, layout) == []


def test_every_piece_is_in_the_stack_of_one_spread_in_laying_order() -> None:
    floor = floor_of(rectangle(0, 0, 5, 6), openings=(_door("d", (1.0, 6.0), (1.9, 6.0)),))
    layout = laid(floor)
    stacks = [spread.pieces for spread in layout.spreads]
    assert [number for stack in stacks for number in stack] == list(range(1, len(layout.pieces) + 1))
    for spread in layout.spreads:
        own = [layout.pieces[number - 1] for number in spread.pieces]
        assert {piece.row for piece in own} == set(range(spread.first_row, spread.last_row + 1))
        area = sum((p.end_m - p.start_m) * (p.far_m - p.near_m) for p in own)
        assert area == pytest.approx(spread.area_m2)
