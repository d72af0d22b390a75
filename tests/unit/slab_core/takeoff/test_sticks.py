"""Trim: where pieces are joined, what is cut from which stick, and that nothing of a wall is left out."""

from dataclasses import replace
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slab_core.materials import starter
from slab_core.materials.model import Item, Package
from slab_core.materials.rates_model import TrimRules
from slab_core.numerics.budget import Budget
from slab_core.rooms.geometry import room_wall_m
from slab_core.rooms.model import Obstacle, Opening, Room, Threshold
from slab_core.takeoff.base_runs import base_runs
from slab_core.takeoff.model import CutList, Scope, Takeoff
from slab_core.takeoff.sticks import Run, cut_list, joined_lengths, sticks_of
from tests.laid_floors import floor_of, rectangle
from tests.takeoff_jobs import line, plan, taken_off

RULES = TrimRules()


def _item(id: str, size_m: float, **changes: str) -> Item:
    return Item(
        id=id, name=id, kind="base", package=Package(unit="stick", size=size_m, size_unit="m"), **changes
    )


def _cut(
    *lengths_m: float, stocks: tuple[Item, ...] = (_item("base", 2.4),), overlap_m: float = 0.0
) -> CutList:
    runs = tuple(Run(where=f"wall {i}", length_m=length) for i, length in enumerate(lengths_m))
    return cut_list(item="base", stocks=stocks, runs=runs, overlap_m=overlap_m, rules=RULES, budget=Budget())


@pytest.mark.parametrize(
    ("lengths", "sticks"),
    [((1.0, 1.0, 1.0), 2), ((1.2, 1.2), 2), ((1.2, 1.197), 1), ((5.0,), 3), ((2.4,), 1)],
)
def test_strips_come_out_of_sticks_in_one_piece_with_a_kerf_between(
    lengths: tuple[float, ...], sticks: int
) -> None:
    cuts = _cut(*lengths)
    assert len(cuts.sticks) == sticks
    assert cuts.proven
    assert cuts.bought_m == cuts.bound_m == pytest.approx(sticks * 2.4)


def test_first_fit_takes_a_stick_more_than_is_needed() -> None:
    """Longest first into the first stick with room: 45+40 | 35+30+25 | 25. Exactly: 45+30+25 | 40+35+25."""
    rules = replace(RULES, kerf_m=0.0)
    runs = tuple(Run(where=f"{cm}", length_m=cm / 100) for cm in (45, 40, 35, 30, 25, 25))
    stocks = (_item("base", 1.0),)
    cuts = cut_list(item="base", stocks=stocks, runs=runs, overlap_m=0.0, rules=rules, budget=Budget())
    assert [[p.where for p in stick.pieces] for stick in cuts.sticks] == [
        ["45", "30", "25"],
        ["40", "35", "25"],
    ]
    assert cuts.proven
    assert cuts.waste_share == pytest.approx(0.0)


@given(st.lists(st.floats(0.1, 2.4), max_size=8))
def test_sticks_hold_their_pieces_and_are_never_fewer_than_the_length_needs(lengths: list[float]) -> None:
    cuts = _cut(*lengths)
    assert len(cuts.sticks) >= sum(lengths) / 2.4 - 1e-9
    assert sorted(p.where for stick in cuts.sticks for p in stick.pieces) == sorted(
        f"wall {i}" for i in range(len(lengths))
    )
    for stick in cuts.sticks:
        cut = [piece.length_m for piece in stick.pieces]
        assert (
            cut == sorted(cut, reverse=True) or max(a - b for a, b in zip(cut[1:], cut, strict=False)) < 1e-4
        )
        assert sum(cut) + RULES.kerf_m * (len(cut) - 1) + stick.left_m <= 2.4 + 1e-4


@given(
    length=st.floats(0.05, 40.0),
    stock=st.floats(1.5, 6.0),
    overlap=st.sampled_from([0.0, 0.015]),
)
def test_joined_pieces_cover_the_run_with_as_few_joints_as_can_be_and_keep_the_rules(
    length: float, stock: float, overlap: float
) -> None:
    pieces = joined_lengths(length_m=length, stock_m=stock, overlap_m=overlap, rules=RULES)
    assert sum(pieces) - overlap * (len(pieces) - 1) == pytest.approx(length)
    assert max(pieces) <= stock + 1e-4
    assert len(pieces) == 1 or (len(pieces) - 1) * stock - (len(pieces) - 2) * overlap < length + 1e-6
    if len(pieces) > 1:
        assert min(pieces[0], pieces[-1]) >= RULES.joint_from_corner_m - 1e-9
        assert min(pieces) >= RULES.least_piece_m - 1e-9


def test_whole_sticks_and_a_rest_take_no_more_sticks_than_any_other_split() -> None:
    """Every place of the joint of two long walls, on a grid, beside a few short pieces."""
    long_m, short_m = (3.1, 2.9), (0.9, 0.9, 0.6)
    found = len(_cut(*long_m, *short_m).sticks)
    places = [round(0.45 + 0.05 * i, 2) for i in range(40)]
    others = [
        len(_cut(a, long_m[0] - a, b, long_m[1] - b, *short_m).sticks)
        for a, b in product(places[::4], places[::4])
        if 0.4 < long_m[0] - a <= 2.4 and 0.4 < long_m[1] - b <= 2.4
    ]
    assert others
    assert found == min(others)


def test_each_stick_says_its_pieces_longest_first_and_what_is_left() -> None:
    cuts = _cut(0.8, 0.9, 3.0)
    whole, shared = cuts.sticks
    assert [(p.where, p.length_m) for p in whole.pieces] == [("wall 2, 1 of 2", pytest.approx(2.4))]
    assert [p.where for p in shared.pieces] == ["wall 1", "wall 0", "wall 2, 2 of 2"]
    assert (whole.left_m, shared.left_m) == (0.0, pytest.approx(0.1 - 3 * RULES.kerf_m))
    assert cuts.waste_share == pytest.approx(0.1 / 4.8)


def test_of_two_stock_lengths_the_least_length_is_bought() -> None:
    stocks = (_item("base", 4.8), _item("base-8", 2.4, other_length_of="base"))
    cuts = _cut(2.3, 4.0, 2.2, stocks=stocks)
    assert sticks_of(cuts) == {"base": 1, "base-8": 2}
    assert cuts.bought_m == pytest.approx(9.6)
    assert cuts.proven


def test_base_runs_from_corner_to_corner_and_stops_at_doors_and_hearths() -> None:
    door = Opening(id="door", start=(1.0, 0.0), end=(2.0, 0.0))
    hearth = Obstacle(id="hearth", kind="hearth", outline=rectangle(4.0, 1.0, 5.0, 2.0))
    (room,) = floor_of(rectangle(0, 0, 5, 4), openings=(door,), obstacles=(hearth,)).rooms
    runs = {run.where: run.length_m for run in base_runs(room=room, mitre_m=0.02)}
    assert runs == pytest.approx(
        {
            "room 1-2": 1.02,  # a corner, then the casing
            "room 1-2 part 2": 3.02,
            "room 2-3": 1.02,
            "room 2-3 part 2": 2.02,
            "room 3-4": 5.04,
            "room 4-1": 4.04,
        }
    )
    assert sum(runs.values()) - 6 * 0.02 - 2 * 0.02 == pytest.approx(room_wall_m(room))


def _ends(room: Room) -> dict[str, tuple[str, str]]:
    cuts = cut_list(
        item="base",
        stocks=(_item("base", 4.8),),
        runs=base_runs(room=room, mitre_m=0.0),
        overlap_m=0.02,
        rules=RULES,
        budget=Budget(),
    )
    return {piece.where: (piece.left, piece.right) for stick in cuts.sticks for piece in stick.pieces}


@pytest.mark.parametrize("clockwise", [False, True])
def test_ends_say_how_they_meet_as_one_faces_the_wall(clockwise: bool) -> None:
    ring = ((0.0, 0.0), (4.0, 0.0), (4.0, 2.0), (2.0, 2.0), (2.0, 3.0), (0.0, 3.0))
    door = Opening(id="door", start=(3.0, 0.0), end=(4.0, 0.0))
    (room,) = floor_of(ring[::-1] if clockwise else ring, openings=(door,)).rooms
    # Facing the long wall from x = 0 to the door, the door is to the left; facing the one along y = 2, the
    # corner that stands out at x = 2 is.
    ends = _ends(room)
    assert ends["room 5-6" if clockwise else "room 1-2"] == ("square", "inside")
    assert ends["room 3-4"] == ("outside", "inside")


def test_base_around_a_hole_meets_in_corners_that_stand_out_and_parts_of_a_run_in_joints() -> None:
    (room,) = floor_of(rectangle(0, 0, 6, 5), holes=(rectangle(2, 2, 3, 3),)).rooms
    ends = _ends(room)
    assert [ends[f"room hole 1 {side}"] for side in ("1-2", "2-3", "3-4", "4-1")] == [
        ("outside", "outside")
    ] * 4
    # Along y = 0 runs go from right to left.
    assert ends["room 1-2, 1 of 2"] == ("joint", "inside")
    assert ends["room 1-2, 2 of 2"] == ("inside", "joint")


def test_a_wall_measured_in_two_straight_parts_is_one_run() -> None:
    (room,) = floor_of(((0.0, 0.0), (2.0, 0.0), (5.0, 0.0), (5.0, 4.0), (0.0, 4.0), (0.0, 2.0))).rooms
    runs = {run.where: run.length_m for run in base_runs(room=room, mitre_m=0.0)}
    assert runs == pytest.approx({"room 1-3": 5.0, "room 3-4": 4.0, "room 4-5": 5.0, "room 5-1": 4.0})


def test_the_takeoff_orders_what_its_cut_list_holds_and_the_spare() -> None:
    threshold = Threshold(low_m=0.0, high_m=0.02, transition="t-molding")
    doors = tuple(
        Opening(id=f"door-{x}", start=(float(x), 0.0), end=(x + 0.9, 0.0), threshold=threshold)
        for x in (1, 3)
    )
    floor = floor_of(rectangle(0, 0, 6, 5), openings=doors)
    made: Takeoff = taken_off((floor,), (plan(floor),), scope=Scope(base_new=True))
    cuts = {each.item: each for each in made.cut_lists}
    assert set(cuts) == {"base", "t-molding"}
    assert line(made, "transition").order == len(cuts["t-molding"].sticks) == 1
    assert line(made, "base").order == len(cuts["base"].sticks) + starter.rates().trim.spare_sticks
    bases = [piece.where for stick in cuts["base"].sticks for piece in stick.pieces]
    assert len(bases) == len(set(bases))
    assert line(made, "base").net == pytest.approx(
        sum(p.length_m for stick in cuts["base"].sticks for p in stick.pieces)
    )


def test_quarter_round_runs_along_the_same_walls_as_base_from_sticks_of_its_own() -> None:
    floor = floor_of(rectangle(0, 0, 6, 5))
    made: Takeoff = taken_off((floor,), (plan(floor),), scope=Scope(base_new=True, quarter_round=True))
    cuts = {each.item: each for each in made.cut_lists}
    assert set(cuts) == {"base", "quarter-round"}
    rules, walls = (
        starter.rates().trim,
        sum(run.length_m for run in base_runs(room=floor.rooms[0], mitre_m=0.02)),
    )
    for item, stick_m in (("base", 16 * 0.3048), ("quarter-round", 8 * 0.3048)):
        pieces = [piece for stick in cuts[item].sticks for piece in stick.pieces]
        scarfs = len(pieces) - 4  # four walls, each with a piece more than it has scarfs
        assert sum(p.length_m for p in pieces) == pytest.approx(
            walls + scarfs * rules.scarf_overlap_m, abs=1e-3
        )
        assert max(p.length_m for p in pieces) <= stick_m + 1e-9
        assert line(made, item).order == len(cuts[item].sticks) + rules.spare_sticks
    both = taken_off((floor,), (plan(floor),), scope=Scope(base_new=True))
    hours = [sum(task.person_hours for task in each.tasks if task.code == "trim") for each in (made, both)]
    assert hours[0] == pytest.approx(2 * hours[1])
