"""What readings prove of a floor, on surfaces that were fitted to them."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats
from slab_core.rooms.build import build_rooms
from slab_core.rooms.model import Floor, Joint, Opening, Room
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import SurfaceOptions
from slab_core.surveys.model import Observations
from slab_core.tolerance.model import Rule, ToleranceReport, ToleranceSpec
from slab_core.tolerance.report import report
from tests.slabs import heights_at, rectangle

FOOT, INCH = 0.3048, 0.0254
USUAL = Rule(length_m=10 * FOOT, gap_m=3 / 16 * INCH)
TIGHT = Rule(length_m=10 * FOOT, gap_m=INCH / 16)


def _squares(width: float, depth: float, *, apart: float = 0.3) -> tuple[Floats, Floats]:
    xs = np.linspace(0.1, width - 0.1, round((width - 0.2) / apart) + 1)
    ys = np.linspace(0.1, depth - 0.1, round((depth - 0.2) / apart) + 1)
    x, y = np.meshgrid(xs, ys)
    return x.ravel(), y.ravel()


def _read(x: Floats, y: Floats, z: Floats | None = None, *, sd_m: float = 0.0003) -> Observations:
    value = np.zeros(len(x)) if z is None else z
    return heights_at(x_m=x, y_m=y, value_m=value, sd_m=sd_m, position_sd_m=0.0)


def _checked(floor: Floor, seen: Observations, *rules: Rule) -> ToleranceReport:
    surface = fit_surface(
        floor=floor, observations=seen, options=SurfaceOptions(grid_step_m=0.1), budget=Budget()
    )
    return report(floor=floor, surface=surface, profiles=(), spec=ToleranceSpec(rules=rules), budget=Budget())


def _verdicts(found: ToleranceReport) -> list[str]:
    return [rule.chance.verdict for rule in found.rules if rule.chance is not None]


@pytest.mark.parametrize("gap_inches", [3 / 16, 1.0])
def test_a_floor_of_which_a_part_is_not_read_never_passes_and_the_place_is_named(gap_inches: float) -> None:
    floor, rule = rectangle(8.0, 4.0), replace(USUAL, gap_m=gap_inches * INCH)
    x, y = _squares(8.0, 4.0)
    assert _verdicts(_checked(floor, _read(x, y), rule)) == ["pass"]
    found = _checked(floor, _read(x[x < 2.5], y[x < 2.5]), rule)
    assert _verdicts(found) == ["measure-more"]
    (problem,) = found.problems
    assert problem.code == "pass-not-proven"
    assert "at wall 2-3" in problem.detail
    assert f"({8.0 - x[x < 2.5].max():.2f} m) away" in problem.detail


def test_a_joint_with_readings_on_one_side_alone_leaves_the_rule_open() -> None:
    floor = rectangle(5.0, 4.0)
    joint = Joint(id="saw cut", kind="control", start=(4.4, 0.0), end=(4.4, 4.0))
    parted = replace(floor, rooms=(replace(floor.rooms[0], joints=(joint,)),))
    x, y = _squares(5.0, 4.0)
    assert _verdicts(_checked(parted, _read(x, y), USUAL)) == ["pass"]
    # Beyond the joint are 0.6 m, near enough to readings, but on the other side of the step.
    found = _checked(parted, _read(x[x < 4.4], y[x < 4.4]), USUAL)
    assert _verdicts(found) == ["measure-more"]
    assert "joint “saw cut”" in found.problems[0].detail


def test_readings_behind_a_wall_do_not_stand_for_those_that_a_closet_lacks() -> None:
    door = Opening(id="door", start=(4.0, 1.0), end=(4.0, 1.8), to_room="closet")
    room = Room(id="room", name="Room", outline=((0, 0), (4, 0), (4, 4), (0, 4)), openings=(door,))
    closet = Room(id="closet", name="Closet", outline=((4.1, 0), (4.8, 0), (4.8, 4), (4.1, 4)))
    (floor,) = build_rooms(rooms=(room, closet)).floors
    x, y = _squares(4.0, 4.0)
    found = _checked(floor, _read(x, y), USUAL)
    assert _verdicts(found) == ["measure-more"]
    assert "of “Closet” there is no reading" in found.problems[0].detail
    one = _read(np.append(x, (4.4, 4.4)), np.append(y, (1.0, 3.0)))
    assert _verdicts(_checked(floor, one, USUAL)) == ["pass"]


def test_three_readings_on_a_level_floor_prove_no_fail() -> None:
    found = _checked(rectangle(5.0, 4.0), _read(np.array([1.0, 4.0, 2.0]), np.array([1.0, 1.0, 3.0])), USUAL)
    (rule,) = found.rules
    assert rule.passes
    assert rule.chance is not None
    assert rule.chance.probability < 0.05
    assert rule.chance.verdict == "measure-more"


@pytest.mark.parametrize("seed", range(4))
def test_a_flat_floor_read_by_a_rough_instrument_does_not_fail_a_tight_rule(seed: int) -> None:
    x, y = _squares(6.0, 5.0, apart=0.6)
    noise = np.random.default_rng(seed).normal(0.0, 0.0013, len(x))
    twenty = replace(TIGHT, length_m=20 * FOOT)
    found = _checked(rectangle(6.0, 5.0), _read(x, y, noise, sd_m=0.0013), TIGHT, twenty)
    assert _verdicts(found) == ["measure-more", "measure-more"]
    proven = [p for p in found.problems if p.code.endswith("-not-proven")]
    assert len(proven) == 2
    assert all("with a finer one" in p.detail for p in proven)


def test_a_hump_far_above_what_a_rough_instrument_leaves_unsure_fails_all_the_same() -> None:
    x, y = _squares(6.0, 5.0, apart=0.4)
    hump = 0.015 * np.exp(-((x - 3.0) ** 2 + (y - 2.5) ** 2) / 0.6**2)
    noise = np.random.default_rng(0).normal(0.0, 0.0013, len(x))
    found = _checked(rectangle(6.0, 5.0), _read(x, y, hump + noise, sd_m=0.0013), TIGHT)
    assert _verdicts(found) == ["fail"]


def test_a_hump_in_the_read_part_fails_a_floor_that_is_not_all_read() -> None:
    x, y = _squares(8.0, 4.0)
    x, y = x[x < 4.0], y[x < 4.0]
    hump = 0.02 * np.exp(-((x - 2.0) ** 2 + (y - 2.0) ** 2) / 0.6**2)
    assert _verdicts(_checked(rectangle(8.0, 4.0), _read(x, y, hump), USUAL)) == ["fail"]


def test_rough_readings_do_not_stand_for_fine_ones_where_those_lack() -> None:
    floor, rule = rectangle(8.0, 4.0), replace(USUAL, gap_m=INCH / 8)
    x, y = _squares(8.0, 4.0)
    fine = _read(x, y, sd_m=0.0003)
    mixed = replace(fine, sd_m=np.where(x < 4.0, 0.0003, 0.0016))
    assert _verdicts(_checked(floor, fine, rule)) == ["pass"]
    found = _checked(floor, mixed, rule)
    assert _verdicts(found) == ["measure-more"]
    assert "fine enough" in found.problems[0].detail
