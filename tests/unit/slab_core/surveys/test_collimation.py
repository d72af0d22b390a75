"""The two-peg check: what it finds, what is taken off, and what a person is told."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.errors import Problem
from slab_core.numerics.grid import Floats
from slab_core.rooms.build import build_rooms
from slab_core.rooms.model import Room
from slab_core.surveys.check import check_surveys
from slab_core.surveys.collimation import slope_of
from slab_core.surveys.model import (
    Benchmark,
    Network,
    Observations,
    PegReadings,
    PegTest,
    ProfileLine,
    Readings,
    Setup,
    Sight,
    Survey,
)
from slab_core.surveys.network import adjust
from slab_core.surveys.observe import observations

ROOMS = build_rooms(rooms=(Room(id="hall", name="Hall", outline=((0, 0), (14, 0), (14, 5), (0, 5))),))
MARKS = (Benchmark(id="bm", elevation_m=10.0),)
SLOPE = 0.0004
STAND = (1.0, 2.0)
TURN_M, MARK_M = 9.0, 3.0


def peg_test(slope: float = SLOPE, *, apart_m: float = 30.0, sd_m: float = 0.0003) -> PegTest:
    """Pegs with a true fall of 0.12 m, seen from the middle and from 2 m behind peg A."""
    half, far = apart_m / 2, apart_m + 2.0
    return PegTest(
        middle=PegReadings(
            rod_a_m=1.40 + slope * half, rod_b_m=1.52 + slope * half, distance_a_m=half, distance_b_m=half
        ),
        near=PegReadings(
            rod_a_m=1.31 + slope * 2.0, rod_b_m=1.43 + slope * far, distance_a_m=2.0, distance_b_m=far
        ),
        sd_m=sd_m,
    )


def truth(x: Floats, y: Floats) -> Floats:
    """Heights above the datum in metres."""
    return np.asarray(8.4 + 0.001 * x - 0.002 * y)


def survey(*, slope: float = SLOPE, place: bool = True, distances: bool = True) -> Survey:
    """Two setups whose line of sight rises, the second tied by a turning point; a block and a line."""
    x, y = (axis.ravel() for axis in np.meshgrid(np.linspace(0.5, 13.5, 14), np.linspace(0.5, 4.5, 5)))
    away = np.hypot(x - STAND[0], y - STAND[1])
    block = Readings(
        kind="rod",
        x_m=x,
        y_m=y,
        value_m=11.75 - truth(x, y) + slope * away,
        setup=np.ones(len(x), dtype=np.int32),
        sd_m=np.full(len(x), 0.0007),
        position_sd_m=np.zeros(len(x)),
    )
    along = np.linspace(0.5, 13.5, 27)
    line = ProfileLine(
        id="l",
        kind="rod",
        start=(0.5, 2.7),
        end=(13.5, 2.7),
        spacing_m=0.5,
        value_m=11.75 - truth(along, np.full(27, 2.7)) + slope * np.hypot(along - STAND[0], 2.7 - STAND[1]),
        setup="b",
    )
    rods = (("a", "bm", 1.5, MARK_M), ("a", "tp", 1.2, TURN_M), ("b", "tp", 1.45, 2.0))
    return Survey(
        id="s",
        setups=(Setup(id="a"), Setup(id="b", place=STAND if place else None)),
        sights=tuple(
            Sight(setup=s, target=t, rod_m=rod + slope * d, distance_m=d if distances else None)
            for s, t, rod, d in rods
        ),
        readings=(block,),
        lines=(line,),
        peg_tests=(peg_test(slope),),
    )


def seen(one: Survey) -> tuple[Network, Observations]:
    net = adjust(rooms=ROOMS, benchmarks=MARKS, surveys=(one,))
    return net, observations(floor=ROOMS.floors[0], surveys=(one,), network=net)


def said(net: Network, code: str) -> list[Problem]:
    return [problem for problem in net.problems if problem.code == code]


def test_a_published_exercise_with_balanced_sights_gives_its_answer() -> None:
    # Pegs 40 m apart: 1.476 and 1.432 from the middle, 1.556 and 1.472 from 10 m beyond the second.
    # The answer given is 0.001 m per m (exercise 7098647 at transtutors.com; also found in textbooks).
    found, _ = slope_of(
        PegTest(
            middle=PegReadings(rod_a_m=1.476, rod_b_m=1.432, distance_a_m=20, distance_b_m=20),
            near=PegReadings(rod_a_m=1.556, rod_b_m=1.472, distance_a_m=50, distance_b_m=10),
        )
    )
    assert found == pytest.approx(0.001, abs=1e-12)


def test_a_published_exercise_with_unequal_sights_gives_its_answer() -> None:
    # 2.847 at 25 m and 3.462 at 50 m, the second peg 0.630 m above: 0.060 m in 100 m, falling
    # (curioustab.com, exercise 66998; its sign convention of the pegs is the printed working's).
    known = PegReadings(rod_a_m=0.0, rod_b_m=0.630, distance_a_m=10, distance_b_m=10)
    away = PegReadings(rod_a_m=2.847, rod_b_m=3.462, distance_a_m=25, distance_b_m=50)
    found, _ = slope_of(PegTest(middle=known, near=away))
    assert 100 * found == pytest.approx(-0.060, abs=1e-12)


def test_the_standard_deviation_of_the_slope_is_what_repeating_the_check_shows() -> None:
    random = np.random.default_rng(8)
    true = peg_test(sd_m=0.0007)
    _, stated = slope_of(true)

    def again(stand: PegReadings) -> PegReadings:
        a, b = random.normal(0.0, 0.0007, 2)
        return replace(stand, rod_a_m=stand.rod_a_m + a, rod_b_m=stand.rod_b_m + b)

    found = [
        slope_of(replace(true, middle=again(true.middle), near=again(true.near)))[0] for _ in range(4000)
    ]
    # The standard deviation of 4,000 draws is itself known to 1.1 %.
    assert np.std(found) == pytest.approx(stated, rel=0.045)
    assert np.mean(found) == pytest.approx(SLOPE, abs=4 * stated / np.sqrt(4000))


@settings(max_examples=25, deadline=None)
@given(st.floats(-0.002, 0.002))
def test_with_all_distances_known_a_tilted_line_of_sight_moves_no_height(slope: float) -> None:
    net, found = seen(survey(slope=slope))
    assert [height.height_m for height in net.setup_heights] == [11.5, 11.75]
    assert found.value_m == pytest.approx(truth(found.x_m[:, 0], found.y_m[:, 0]), abs=2e-9)
    assert net.largest_closure_m < 1e-12


def test_without_the_check_the_same_readings_are_wrong_by_the_slope_times_the_distance() -> None:
    _, found = seen(replace(survey(), peg_tests=()))
    wrong = found.value_m - truth(found.x_m[:, 0], found.y_m[:, 0])
    assert wrong.min() < -0.003


def test_what_the_check_leaves_unsure_widens_readings_with_their_distance() -> None:
    net, found = seen(survey())
    (collimation,) = net.collimations
    assert (collimation.survey, collimation.instrument) == ("s", "")
    assert collimation.slope == pytest.approx(SLOPE)
    assert collimation.slope_sd == pytest.approx(2 * 0.0003 / 30)
    away = np.hypot(found.x_m[:, 0] - STAND[0], found.y_m[:, 0] - STAND[1])
    assert found.sd_m == pytest.approx(np.hypot(0.0007, collimation.slope_sd * away), abs=2e-9)


def test_unknown_distances_are_told_and_the_error_stays_within_what_is_stated() -> None:
    net, found = seen(survey(place=False, distances=False))
    problems = said(net, "sight-distance-unknown")
    assert [problem.pointer for problem in problems] == ["/surveys/0/setups/0", "/surveys/0/setups/1"]
    assert "2 of its sights have no distance" in problems[0].detail
    assert "give its place" in problems[1].detail
    wrong = found.value_m - truth(found.x_m[:, 0], found.y_m[:, 0])
    reach = float(np.hypot(13.0, 4.0))
    assert found.sd_m.min() > SLOPE * reach / np.sqrt(12)
    # The readings and the setup's own height share what is unknown.
    assert np.abs(wrong).max() < 2 * np.hypot(found.sd_m.max(), net.setup_heights[1].sd_m)
    assert said(seen(survey())[0], "sight-distance-unknown") == []


def test_an_instrument_s_own_check_counts_before_the_one_for_all() -> None:
    one = survey()
    own = replace(peg_test(SLOPE), instrument="optical level")
    _, found = seen(replace(one, peg_tests=(peg_test(-0.001), own)))
    assert found.value_m == pytest.approx(truth(found.x_m[:, 0], found.y_m[:, 0]), abs=2e-9)


@pytest.mark.parametrize(
    ("slope", "apart_m", "sd_m", "instrument", "code"),
    [
        (0.00005, 30.0, 0.0003, "optical level", None),
        (0.0004, 30.0, 0.0003, "optical level", "collimation-too-large"),
        (-0.0004, 30.0, 0.0003, "optical level", "collimation-too-large"),
        (0.0002, 30.0, 0.0003, "line-laser", None),
        (0.0002, 30.0, 0.0003, "rotary-laser", "collimation-too-large"),
        (0.0002, 10.0, 0.0013, "optical level", "peg-test-too-rough"),
    ],
)
def test_a_level_out_beyond_practice_is_told_and_so_is_a_check_too_rough_to_say(
    slope: float, apart_m: float, sd_m: float, instrument: str, code: str | None
) -> None:
    one = survey(slope=slope)
    setups = tuple(replace(setup, instrument=instrument) for setup in one.setups)
    test = peg_test(slope, apart_m=apart_m, sd_m=sd_m)
    net, _ = seen(replace(one, setups=setups, peg_tests=(test,)))
    assert [problem.code for problem in net.problems] == ([code] if code else [])
    if code == "collimation-too-large":
        (problem,) = net.problems
        assert "have the level adjusted" in problem.detail
        assert ("rises" if slope > 0 else "falls") in problem.detail
        assert "from memory" in problem.detail or "common practice" in problem.detail
        assert (problem.severity, problem.pointer) == ("finding", "/surveys/0/peg_tests/0")


SOUND = peg_test()


@pytest.mark.parametrize(
    ("tests", "code", "where"),
    [
        ((replace(SOUND, sd_m=0.0),), "sd-not-positive", "0/sd"),
        ((replace(SOUND, near=replace(SOUND.near, rod_b_m=1400.0)),), "not-a-rod-reading", "0/near/rod_b"),
        (
            (replace(SOUND, middle=replace(SOUND.middle, distance_a_m=-1.0)),),
            "not-a-distance",
            "0/middle/distance_a",
        ),
        ((replace(SOUND, near=SOUND.middle),), "peg-test-without-base", "0/near/distance_a"),
        ((replace(SOUND, near=replace(SOUND.near, rod_b_m=2.43)),), "peg-test-absurd", "0"),
        ((replace(SOUND, instrument="line-laser"),), "peg-test-without-setup", "0/instrument"),
        ((SOUND, SOUND), "peg-test-repeated", "1"),
    ],
)
def test_a_check_that_finds_nothing_is_refused_with_its_place(
    tests: tuple[PegTest, ...], code: str, where: str
) -> None:
    problems = check_surveys(surveys=(replace(survey(), peg_tests=tests),), benchmarks=MARKS)
    assert [(p.code, p.pointer, p.severity) for p in problems] == [
        (code, f"/surveys/0/peg_tests/{where}", "refusal")
    ]


def test_a_place_and_a_distance_that_cannot_be_are_refused() -> None:
    one = survey()
    setups = (one.setups[0], replace(one.setups[1], place=(float("nan"), 0.0)))
    sights = (replace(one.sights[0], distance_m=4000.0), *one.sights[1:])
    problems = check_surveys(surveys=(replace(one, setups=setups, sights=sights),), benchmarks=MARKS)
    assert [(p.code, p.pointer) for p in problems] == [
        ("not-finite", "/surveys/0/setups/1/place/0"),
        ("not-a-distance", "/surveys/0/sights/0/distance"),
    ]
