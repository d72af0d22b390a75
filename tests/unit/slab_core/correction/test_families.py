"""Alternates on slabs of known shape: level, grind-only and fill-only beside the plane of any slope."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.correction.family import FAMILIES, LevelPoint
from slab_core.correction.level_points import off_every_floor
from slab_core.correction.model import Limits, Plan
from slab_core.correction.work import SKIN_MM
from slab_core.numerics.grid import Floats
from slab_core.stages import ALTERNATES, FILL_ONLY, GRIND_ONLY, LEVEL, PLANE
from tests.invented_floors import LIFTED, Work, build_up_m, door, rectangle, work

WIDE_M, LONG_M = 3.0, 4.0
ROUNDED = 2e-3
"""Planes are compared before their heights are rounded to storage steps, which moves a cost by so much."""

Wave = tuple[float, float, float, float]
waves = st.tuples(
    st.floats(4.0, 12.0), st.floats(1.5, 6.0), st.floats(0.0, 6.28), st.floats(0.0, 6.28)
)  # height in mm, length in m, direction, phase
AWAY = Limits(greatest_grind_m=0.05, greatest_fill_m=0.05)
"""Limits that stop none of the alternates on these slabs."""


def wavy(wave: Wave, *, alternate: str, mirrored: bool = False, **changes: Any) -> Work:
    """A tilted slab with one long wave and one short one, to be corrected by an alternate."""
    high, length, direction, phase = wave

    def height_m(x: Floats, y: Floats) -> Floats:
        x = WIDE_M - x if mirrored else x
        along = x * np.cos(direction) + y * np.sin(direction)
        long_wave = high * np.sin(2 * np.pi * along / length + phase)
        return np.asarray(1e-3 * (long_wave + 0.6 * np.cos(5.1 * x) * np.sin(4.3 * y)) + 0.002 * x)

    floor = rectangle(width_m=WIDE_M, length_m=LONG_M)
    return work(
        floor=floor, height_m=height_m, columns=40, **{"limits": AWAY, "alternate": alternate, **changes}
    )


def tilted(*, alternate: str, **changes: Any) -> Plan:
    """A flat slab that falls 12 mm over its width and passes every rule as it is."""
    floor = rectangle(width_m=WIDE_M, length_m=LONG_M)
    job = work(floor=floor, height_m=lambda x, y: 0.004 * x + 0.0 * y, columns=40, **changes)
    return replace(job, changes={"alternate": alternate, **job.changes}).plan()


def test_every_alternate_of_a_plane_has_its_family() -> None:
    assert {PLANE, LEVEL, GRIND_ONLY, FILL_ONLY} == set(FAMILIES)
    assert set(FAMILIES) <= set(ALTERNATES)


@settings(max_examples=6, deadline=None, derandomize=True)
@given(waves)
def test_no_alternate_costs_less_than_the_plane_of_any_slope(wave: Wave) -> None:
    plane = wavy(wave, alternate=PLANE).plan()
    for alternate in (LEVEL, GRIND_ONLY, FILL_ONLY):
        plan = wavy(wave, alternate=alternate).plan()
        assert plan.passes
        assert plan.alternate == alternate
        assert plan.solve.bound <= plan.solve.objective
        assert plan.solve.objective >= (1 - ROUNDED) * plane.solve.objective


@settings(max_examples=6, deadline=None, derandomize=True)
@given(waves)
def test_each_alternate_keeps_to_what_it_says(wave: Wave) -> None:
    level, ground, filled = (wavy(wave, alternate=name).plan() for name in (LEVEL, GRIND_ONLY, FILL_ONLY))
    assert level.plane is not None
    assert level.plane[1] == level.plane[2] == 0.0
    assert ground.bags == ground.pour_days == 0
    assert not ground.fill.any()
    assert not filled.grind.any()
    assert filled.grinder_hours == filled.hand_grinder_hours == 0.0


@settings(max_examples=4, deadline=None, derandomize=True)
@given(waves, st.sampled_from([LEVEL, GRIND_ONLY, FILL_ONLY]))
def test_the_bound_is_below_every_other_plane_of_the_alternate(wave: Wave, alternate: str) -> None:
    job = wavy(wave, alternate=alternate)
    plan, rng = job.plan(), np.random.default_rng(11)
    assert plan.plane is not None
    z = job.surface.height * 1e-5
    x, y = np.meshgrid(plan.grid.xs(), plan.grid.ys())
    free = replace(job, changes={k: v for k, v in job.changes.items() if k != "alternate"})
    for _ in range(6):
        slope_x, slope_y = (0.0, 0.0) if alternate == LEVEL else rng.normal(0.0, 1e-3, 2) + plan.plane[1:]
        over = z - slope_x * x - slope_y * y
        height = {
            LEVEL: plan.plane[0] + rng.normal(0.0, 1e-3),
            GRIND_ONLY: over.min() + rng.uniform(0.0, 1e-3 * (SKIN_MM - 0.03)),
            FILL_ONLY: over.max() + rng.uniform(0.0, 1e-3),
        }[alternate]
        other = free.at(height_m=float(height), slope_x=float(slope_x), slope_y=float(slope_y))
        assert other.passes
        assert plan.solve.bound <= other.solve.objective + 1e-6


@pytest.mark.parametrize("alternate", [LEVEL, GRIND_ONLY, FILL_ONLY])
def test_a_mirrored_room_costs_the_same_within_the_gap(alternate: str) -> None:
    wave = (8.0, 4.0, 0.5, 0.3)
    plan, mirrored = (wavy(wave, alternate=alternate, mirrored=side).plan() for side in (False, True))
    slack = 2 * max(plan.solve.gap(), mirrored.solve.gap(), 1e-9)
    assert mirrored.solve.objective == pytest.approx(plan.solve.objective, rel=slack)


def test_a_flat_floor_that_falls_is_left_by_all_but_the_level_alternate() -> None:
    for alternate in (PLANE, GRIND_ONLY, FILL_ONLY):
        assert tilted(alternate=alternate).solve.status == "not-needed"
    plan = tilted(alternate=LEVEL)
    assert plan.solve.status in ("optimal", "feasible")
    assert plan.solve.objective > 0.0
    corrected = plan.fill.astype(int) - plan.grind + np.rint(400.0 * plan.grid.xs()).astype(int)
    assert np.ptp(corrected[plan.inside]) * 0.01 <= 2 * SKIN_MM + 0.02


def test_a_floor_that_is_level_already_costs_nothing_by_the_level_alternate() -> None:
    floor = rectangle(width_m=WIDE_M, length_m=LONG_M)
    plan = work(floor=floor, height_m=lambda x, y: 0.0 * x + 0.0 * y, columns=40, alternate=LEVEL).plan()
    assert plan.solve.status == "not-needed"
    assert plan.bags == 0


@pytest.mark.parametrize(
    ("points", "height_m"),
    [
        ((LevelPoint(at=(1.0, 1.0), height_m=0.010),), 0.010),
        ((LevelPoint(at=(1.5, 2.0)),), 0.006),
        ((LevelPoint(at=(1.0, 1.0)), LevelPoint(at=(2.0, 1.0))), 0.008),
        ((LevelPoint(at=(1.0, 1.0)), LevelPoint(at=(2.0, 1.0), height_m=0.009)), 0.009),
        ((LevelPoint(at=(30.0, 1.0), height_m=0.2), LevelPoint(at=(1.5, 0.5))), 0.006),
    ],
)
def test_a_level_plane_runs_through_the_highest_place_given_on_its_floor(
    points: tuple[LevelPoint, ...], height_m: float
) -> None:
    plan = tilted(alternate=LEVEL, level_points=points)
    assert plan.plane is not None
    assert plan.plane[0] == pytest.approx(height_m, abs=1e-6)
    assert plan.plane[1] == plan.plane[2] == 0.0


def test_places_on_no_floor_are_refused_each_by_itself() -> None:
    floor = rectangle(width_m=WIDE_M, length_m=LONG_M)
    points = (LevelPoint(at=(1.0, 1.0)), LevelPoint(at=(3.01, 1.0)), LevelPoint(at=(4.0, 1.0)))
    (problem,) = off_every_floor(points=points, floors=(floor,))
    assert problem.pointer == "/options/level_through/2"
    assert problem.severity == "refusal"


def refusal(**changes: Any) -> str:
    """Why the alternate cannot be done on a slab with an inch of wave."""
    plan = wavy((12.7, 4.0, 0.5, 0.3), **changes).plan()
    assert plan.solve.status == "infeasible"
    assert not plan.passes
    (problem,) = plan.problems
    assert problem.severity == "refusal"
    return problem.detail


def test_an_alternate_that_cannot_be_done_says_so_by_its_name() -> None:
    detail = refusal(alternate=GRIND_ONLY, limits=Limits())
    assert detail.startswith(
        "the alternate grind-only cannot be done on floor floor-1: no plane lies within "
    )
    assert "of grinding and no fill, everywhere; one would with" in detail
    assert detail.endswith("more of grinding.")
    little = Limits(greatest_fill_m=0.005)
    assert "of fill and no grinding, everywhere" in refusal(alternate=FILL_ONLY, limits=little)
    high = (LevelPoint(at=(1.0, 1.0), height_m=0.2),)
    assert 'no level plane at 7-7/8" (200.0 mm)' in refusal(alternate=LEVEL, level_points=high)


def test_grinding_alone_is_refused_where_the_slab_may_not_be_ground() -> None:
    detail = refusal(alternate=GRIND_ONLY, limits=Limits(no_grinding=True))
    assert "no fill, and this slab may not be ground" in detail


def test_doorways_hold_for_every_alternate() -> None:
    low, high = build_up_m(), build_up_m() + 0.002
    doors = tuple(
        door(id=name, start=(1.0, y), end=(1.9, y), low_m=low, high_m=high)
        for name, y in (("south", 0.0), ("north", LONG_M))
    )
    floor = rectangle(width_m=WIDE_M, length_m=LONG_M, openings=doors)

    def hump(x: Floats, y: Floats) -> Floats:
        return 8e-3 * np.sin(np.pi * x / WIDE_M) * np.sin(np.pi * y / LONG_M)

    for alternate in (LEVEL, GRIND_ONLY):
        plan = work(floor=floor, height_m=hump, columns=40, alternate=alternate, limits=AWAY).plan()
        assert plan.plane is not None, plan.problems
        at_door = plan.plane[0] + plan.plane[1] * np.array([1.0, 1.9])
        assert ((at_door >= -1e-5) & (at_door <= 0.002 + 1e-5)).all()
    plan = work(floor=floor, height_m=hump, columns=40, alternate=FILL_ONLY, limits=AWAY).plan()
    assert {problem.code for problem in plan.problems} == {"threshold-unmeetable"}
    for problem in plan.problems:
        assert problem.detail.startswith("the alternate fill-only cannot be done on floor floor-1: opening ")
        assert "this alternate grinds nothing" in problem.detail


def test_filling_alone_with_a_compound_that_cannot_be_feathered_grinds_no_keys() -> None:
    plan = wavy((5.0, 5.0, 0.6, 0.4), alternate=FILL_ONLY, compound=LIFTED).plan()
    assert plan.passes
    assert not plan.grind.any()
    assert plan.fill[plan.fill > 0].min() >= LIFTED.least_lift_m * 1e5
