"""All kinds of readings as linear observations of one surface with a known shape."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.errors import InputRefused
from slab_core.numerics.grid import Floats
from slab_core.rooms.build import build_rooms
from slab_core.rooms.model import Room
from slab_core.surveys.model import (
    Benchmark,
    Gaps,
    Network,
    Observations,
    ProfileLine,
    Readings,
    Setup,
    Sight,
    Survey,
)
from slab_core.surveys.network import adjust
from slab_core.surveys.observe import observations, profiles

DEN = Room(id="den", name="Den", outline=((0, 0), (6, 0), (6, 5), (0, 5)))
HALL = Room(id="hall", name="Hall", outline=((6.2, 0), (9, 0), (9, 5), (6.2, 5)))
ROOMS = build_rooms(rooms=(DEN, HALL))
BENCH = (Benchmark(id="bm", elevation_m=10.0),)


def truth(x: Floats, y: Floats) -> Floats:
    """A tilted dish: heights above the datum in metres."""
    return 8.5 + 0.002 * x - 0.001 * y + 0.0004 * (x - 3) ** 2 + 0.0003 * (y - 2) * x


def survey(*, rod_offset: float = 0.0) -> Survey:
    """Rods from two setups, elevations, a line by rod, and gaps, all of the same truth without noise."""
    random = np.random.default_rng(5)
    x, y = random.uniform(0.1, 8.9, 60), random.uniform(0.1, 4.9, 60)
    in_wall = (x > 5.9) & (x < 6.3)
    x, y = x[~in_wall], y[~in_wall]
    setup = (np.arange(len(x)) % 2).astype(np.int32)
    sight = np.array([11.5, 11.75])
    columns = {"sd_m": np.full(len(x), 0.0007), "position_sd_m": np.full(len(x), 0.05)}
    rods = Readings(
        kind="rod", x_m=x, y_m=y, value_m=sight[setup] - truth(x, y) + rod_offset, setup=setup, **columns
    )
    levels = Readings(
        kind="elevation",
        x_m=y,
        y_m=x / 2,
        value_m=truth(y, x / 2),
        setup=np.full(len(x), -1, dtype=np.int32),
        **columns,
    )
    along = np.arange(11) * 0.5
    line = ProfileLine(
        id="l1",
        kind="rod",
        start=(0.5, 0.5),
        end=(3.5, 4.5),
        spacing_m=0.5,
        value_m=11.75 - truth(0.5 + 0.6 * along, 0.5 + 0.8 * along) + rod_offset,
        setup="b",
    )
    sights = (
        Sight(setup="a", target="bm", rod_m=1.5 + rod_offset),
        Sight(setup="a", target="tp", rod_m=1.2 + rod_offset),
        Sight(setup="b", target="tp", rod_m=1.45 + rod_offset),
    )
    setups = (Setup(id="a"), Setup(id="b"))
    return Survey(
        id="s", setups=setups, sights=sights, readings=(rods, levels), gaps=(edges(),), lines=(line,)
    )


def edges() -> Gaps:
    x0, y0, x1, y1 = (np.array(column) for column in ([1.0, 1.0], [1.0, 2.0], [4.0, 1.5], [2.0, 4.5]))
    at = np.array([0.25, 0.6])
    chord = (1 - at) * truth(x0, y0) + at * truth(x1, y1)
    gap = chord - truth(x0 + at * (x1 - x0), y0 + at * (y1 - y0))
    return Gaps(x0_m=x0, y0_m=y0, x1_m=x1, y1_m=y1, at=at, gap_m=gap, sd_m=np.full(2, 0.0003))


def network(one: Survey) -> Network:
    return adjust(rooms=ROOMS, benchmarks=BENCH, surveys=(one,))


def predicted(found: Observations) -> Floats:
    return np.asarray(np.sum(found.weight * truth(found.x_m, found.y_m), axis=1))


def test_every_kind_of_reading_observes_the_one_true_surface() -> None:
    one = survey()
    found = observations(floor=ROOMS.floors[0], surveys=(one,), network=network(one))
    assert np.abs(predicted(found) - found.value_m).max() < 2e-9
    kinds = {pointer.split("/")[3] for pointer in found.pointer}
    assert kinds == {"readings", "lines", "gaps"}


def test_each_reading_is_on_one_floor_and_none_is_lost() -> None:
    one = survey()
    net = network(one)
    parts = [observations(floor=floor, surveys=(one,), network=net) for floor in ROOMS.floors]
    pointers = [pointer for part in parts for pointer in part.pointer]
    assert len(set(pointers)) == len(pointers) == net.reading_count
    assert parts[0].x_m.max() < 6.1
    assert parts[1].x_m.min() > 6.1


def test_the_order_is_blocks_of_readings_then_lines_then_gaps_each_by_row() -> None:
    one = survey()
    found = observations(floor=ROOMS.floors[0], surveys=(one,), network=network(one))
    order = {"readings": 0, "lines": 1, "gaps": 2}
    keys = [(order[p.split("/")[3]], int(p.split("/")[4]), int(p.split("/")[6])) for p in found.pointer]
    assert keys == sorted(keys)
    assert found.pointer[-1] == "/surveys/0/gaps/0/gap/1"


def test_a_gap_weighs_both_ends_by_their_distance_and_the_floor_under_it() -> None:
    one = survey()
    found = observations(floor=ROOMS.floors[0], surveys=(one,), network=network(one))
    assert found.weight[-2].tolist() == [0.75, 0.25, -1.0]
    assert found.x_m[-2].tolist() == [1.0, 4.0, 1.75]
    # The dish's own figure: a chord over a x² + b x y departs from it by at(1-at)(a dx² + b dx dy).
    assert found.value_m[-2] == pytest.approx(0.25 * 0.75 * (0.0004 * 9 + 0.0003 * 3), abs=1e-9)


def test_an_edge_on_inner_rests_overhangs_and_weighs_the_farther_rest_against_it() -> None:
    block = edges()
    rests = {"rest0": np.array([0.25, 0.0]), "rest1": np.array([0.75, 0.5])}
    at = np.array([0.5, 1.0])
    low, high = rests["rest0"], rests["rest1"]

    def on_edge(share: Floats) -> Floats:
        return truth(
            block.x0_m + share * (block.x1_m - block.x0_m), block.y0_m + share * (block.y1_m - block.y0_m)
        )

    chord = on_edge(low) + (at - low) / (high - low) * (on_edge(high) - on_edge(low))
    block = replace(block, at=at, gap_m=chord - on_edge(at), **rests)
    one = replace(survey(), gaps=(block,))
    found = observations(floor=ROOMS.floors[0], surveys=(one,), network=network(one))
    assert np.abs(predicted(found) - found.value_m).max() < 2e-9
    assert found.weight[-2].tolist() == [0.5, 0.5, -1.0]
    # Rocking on its middle: the free end is as far beyond the crown as the held one is before it.
    assert found.weight[-1].tolist() == [-1.0, 2.0, -1.0]


@settings(max_examples=20, deadline=None)
@given(st.floats(-0.5, 0.5))
def test_a_constant_added_to_all_rods_moves_no_observation(constant: float) -> None:
    plain, longer = survey(), survey(rod_offset=constant)
    before = observations(floor=ROOMS.floors[0], surveys=(plain,), network=network(plain))
    after = observations(floor=ROOMS.floors[0], surveys=(longer,), network=network(longer))
    assert after.value_m == pytest.approx(before.value_m, abs=1e-6)
    assert after.pointer == before.pointer


def test_values_are_rounded_to_the_nanometre() -> None:
    one = survey()
    found = observations(floor=ROOMS.floors[0], surveys=(one,), network=network(one))
    for column in (found.x_m, found.y_m, found.value_m, found.sd_m, found.position_sd_m):
        assert np.array_equal(column, np.round(column, 9))


def test_readings_outside_are_not_observations_and_those_in_reach_are() -> None:
    one = survey()
    block = one.readings[1]
    moved = replace(block, x_m=np.concatenate([[-0.15, -0.05], block.x_m[2:]]))
    one = replace(one, readings=(one.readings[0], moved))
    found = observations(floor=ROOMS.floors[0], surveys=(one,), network=network(one))
    assert "/surveys/0/readings/1/value/0" not in found.pointer
    assert "/surveys/0/readings/1/value/1" in found.pointer


def test_a_profile_holds_the_heights_of_its_line_in_order() -> None:
    one = survey()
    (profile,) = profiles(floor=ROOMS.floors[0], surveys=(one,), network=network(one))
    x, y = np.linspace(0.5, 3.5, 11), np.linspace(0.5, 4.5, 11)
    assert profile.height_m == pytest.approx(truth(x, y), abs=1e-9)
    assert (profile.start, profile.end, profile.spacing_m) == ((0.5, 0.5), (3.5, 4.5), 0.5)
    assert profiles(floor=ROOMS.floors[1], surveys=(one,), network=network(one)) == ()


def test_of_a_line_that_crosses_two_floors_each_gets_its_own_run() -> None:
    line = ProfileLine(
        id="x",
        kind="elevation",
        start=(4.05, 1),
        end=(8.05, 1),
        spacing_m=0.5,
        value_m=np.linspace(8.5, 8.6, 9),
    )
    one = replace(survey(), lines=(line,))
    net = network(one)
    (den,) = profiles(floor=ROOMS.floors[0], surveys=(one,), network=net)
    (hall,) = profiles(floor=ROOMS.floors[1], surveys=(one,), network=net)
    assert (den.start, den.end, len(den.height_m)) == ((4.05, 1.0), (5.55, 1.0), 4)
    assert (hall.start, hall.end, len(hall.height_m)) == ((6.55, 1.0), (8.05, 1.0), 4)
    assert [p.pointer for p in net.problems if p.code == "reading-outside"] == ["/surveys/0/lines/0/value/4"]


def test_a_reading_of_a_setup_without_a_height_stops_the_floor_with_its_place() -> None:
    one = survey()
    one = replace(one, sights=one.sights[:1])
    with pytest.raises(InputRefused, match="tied") as refused:
        observations(floor=ROOMS.floors[0], surveys=(one,), network=network(one))
    (problem,) = refused.value.problems
    assert (problem.code, problem.severity) == ("setup-untied", "refusal")
    assert problem.pointer.startswith("/surveys/0/readings/0/value/")


def test_a_survey_of_gaps_alone_is_observed() -> None:
    one = Survey(id="s", gaps=(edges(),))
    rooms = build_rooms(rooms=(DEN,))
    net = adjust(rooms=rooms, benchmarks=(), surveys=(one,))
    found = observations(floor=rooms.floors[0], surveys=(one,), network=net)
    assert net.problems == ()
    assert len(found.value_m) == 2
