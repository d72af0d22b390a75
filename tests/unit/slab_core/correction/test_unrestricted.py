"""The plan beside the cheapest heights of all: what they are a bound of, and what is said where none do."""

from dataclasses import replace

import numpy as np
import pytest

from slab_core.correction.model import Limits, Unrestricted
from slab_core.correction.optimum.model import Demand
from slab_core.correction.unrestricted import demand_of_task
from slab_core.materials import starter
from slab_core.numerics.grid import Floats
from slab_core.rooms.model import Joint
from slab_core.tolerance.model import Rule
from tests.invented_floors import Work, build_up_m, door, rectangle, trough, work
from tests.unit.slab_core.correction.test_plan import wavy

WAVES = ((8.0, 2.5, 0.4, 1.0), (6.0, 4.0, 1.2, 3.0), (11.0, 5.0, 2.9, 0.2))


def bounded(job: Work) -> Work:
    return replace(job, changes=job.changes | {"lower_bound": True})


def found(job: Work) -> Unrestricted:
    unrestricted = bounded(job).plan().unrestricted
    assert unrestricted is not None
    return unrestricted


@pytest.mark.parametrize("wave", WAVES)
def test_no_plane_costs_less_than_the_cheapest_heights_of_all(
    wave: tuple[float, float, float, float],
) -> None:
    job = wavy(wave)
    made = bounded(job).plan()
    assert made.unrestricted is not None
    assert made.unrestricted.status == "optimal"
    assert 0.0 < made.unrestricted.bound <= made.unrestricted.cost < made.solve.objective
    price = made.unrestricted.price_of_realism
    assert price == pytest.approx(made.solve.objective - made.unrestricted.cost)
    assert made.unrestricted.violation_m <= 1e-5
    assert made.unrestricted.fill_m3 < made.fill_m3 + made.grind_m3


def test_it_is_found_only_when_asked_for_and_changes_nothing_else() -> None:
    job = wavy(WAVES[0])
    plain, asked = job.plan(), bounded(job).plan()
    assert plain.unrestricted is None
    assert asked.unrestricted is not None
    assert asked.plane == plain.plane
    assert asked.solve == plain.solve


def test_a_floor_that_passes_has_none() -> None:
    floor = rectangle(width_m=3.0, length_m=4.0)
    assert bounded(work(floor=floor, height_m=lambda x, y: 0.001 * x + 0.0 * y)).plan().unrestricted is None


def test_a_trough_costs_what_its_middle_takes() -> None:
    floor = rectangle(width_m=3.0, length_m=3.0)
    narrow = work(floor=floor, height_m=trough(width_m=3.0, depth_m=0.008), columns=24)
    unrestricted = found(narrow)
    plain = starter.planning_costs()
    # An edge over the whole trough shows 8 mm in the middle; 4.76 are allowed, so 3.24 are filled there, and
    # a cap of a parabola that high and as long as the room.
    half = 1.5 * np.sqrt(3.2375 / 8.0)
    assert unrestricted.fill_m3 == pytest.approx(4 / 3 * half * 3.2375e-3 * 3.0, rel=0.15)
    assert unrestricted.cost >= unrestricted.fill_m3 * plain.compound_per_bag


def test_heights_beyond_every_limit_are_told_with_what_would_do() -> None:
    def peak(x: Floats, y: Floats) -> Floats:
        return np.asarray(0.02 * np.exp(-((x - 1.5) ** 2 + (y - 2.0) ** 2) / 0.02))

    floor = rectangle(width_m=3.0, length_m=4.0)
    limits = Limits(greatest_grind_m=0.002, greatest_fill_m=0.003)
    told = found(work(floor=floor, height_m=peak, columns=30, limits=limits))
    assert told.status == "infeasible"
    assert told.price_of_realism is None
    assert {giving.limit for giving in told.would_do} >= {"gap", "greatest-grind"}
    least = min(giving.by_m for giving in told.would_do)
    assert 0.0 < least < 0.0152


def demand_of(job: Work) -> Demand:
    return demand_of_task(job.task())


def test_a_moving_joint_keeps_neither_fill_nor_straightedge_off() -> None:
    plain = rectangle(width_m=3.0, length_m=4.0)
    joint = Joint(id="j", kind="construction", start=(1.5, 0.0), end=(1.5, 4.0), moves=True)
    jointed = replace(plain, rooms=(replace(plain.rooms[0], joints=(joint,)),))
    one, other = (
        demand_of(work(floor=floor, height_m=trough(width_m=3.0, depth_m=0.008), columns=24))
        for floor in (plain, jointed)
    )
    assert not other.keep_fill_off.any()
    np.testing.assert_array_equal(other.free, one.free)


def test_the_doorways_range_holds_for_the_heights_beside_it() -> None:
    opening = door(
        id="d", start=(1.0, 0.0), end=(2.0, 0.0), low_m=0.004 + build_up_m(), high_m=0.006 + build_up_m()
    )
    floor = rectangle(width_m=3.0, length_m=4.0, openings=(opening,))
    job = work(floor=floor, height_m=lambda x, y: 0.0 * x + 0.0 * y, columns=24)
    demand = demand_of(job)
    asked = np.isfinite(demand.lowest_mm)
    assert asked[0].sum() == 9
    assert not asked[1:].any()
    assert demand.lowest_mm[asked] == pytest.approx(4.0 - 1.25)
    assert demand.highest_mm[asked] == pytest.approx(6.0 + 1.25)
    assert found(job).cost > 0.0


def test_a_slab_that_may_not_be_ground_says_so() -> None:
    job = work(
        floor=rectangle(width_m=3.0, length_m=4.0), height_m=trough(width_m=3.0, depth_m=-0.01), columns=20,
        limits=Limits(no_grinding=True), rules=(Rule(length_m=3.0, gap_m=0.004),),
    )  # fmt: skip
    assert found(job).grind_m3 == 0.0
