"""A strip that walls cut is several bays, each with its own nodes, outline, bags and pins."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from slab_core.correction.model import Plan
from slab_core.correction.nodes import floor_nodes
from slab_core.correction.pour_places import bay_numbers, bay_of
from slab_core.correction.resurvey.standing import EarlierPlan, Standing
from slab_core.correction.resurvey.works import works_of
from slab_core.rooms.model import Floor, Ring, Room
from tests.invented_floors import LIFTED, Work
from tests.walled_floors import U_ROOM, low_legs, room_of, walled


@pytest.fixture(scope="module")
def job() -> Work:
    return walled(floor=room_of(outline=U_ROOM), height_m=low_legs, compound=LIFTED)


@pytest.fixture(scope="module")
def plan(job: Work) -> Plan:
    return job.at(height_m=0.0)


def test_each_leg_of_a_room_is_a_pour_of_its_own(plan: Plan) -> None:
    # The legs, 1.6 m wide and 2.8 m apart, are filled from y = 2 m on; strips are 2 m or 3 m wide.
    for pour in plan.pours:
        xs = [x for x, _ in pour.outline]
        assert max(xs) <= 1.6 + 1e-6 or min(xs) >= 4.4 - 1e-6
    assert len({bay_of(pour.id)[0] for pour in plan.pours}) == len(plan.pours)


def test_outlines_hold_all_that_is_filled(plan: Plan) -> None:
    x, y = (axis.reshape(plan.fill.shape) for axis in plan.grid.places().T)
    bays = bay_numbers(plan)
    assert ((bays > 0) == (plan.fill > 0)).all()
    for pour in plan.pours:
        here = bays == bay_of(pour.id)[1]
        shape = shapely.Polygon(pour.outline).buffer(1e-6)
        assert here.any()
        assert shapely.intersects_xy(shape, x[here], y[here]).all()


def test_bags_are_those_that_the_search_counts_whole_by_pour(job: Work, plan: Plan) -> None:
    assert plan.bags == sum(pour.bags for pour in plan.pours)
    size = LIFTED.package.size
    for pour in plan.pours:
        mixed = (pour.volume_m3 * (1.0 + LIFTED.waste_share) + pour.area_m2 * LIFTED.texture_m) / size
        assert pour.bags == np.ceil(mixed - 1e-9)
    areas = sum(pour.area_m2 for pour in plan.pours)
    assert areas == pytest.approx(plan.fill_m2)


def test_each_pour_of_a_cut_strip_has_pins_inside_its_own_walls(plan: Plan) -> None:
    for pour in plan.pours:
        assert len(pour.pins) >= 2
        shape = shapely.Polygon(pour.outline).buffer(1e-6)
        assert all(shape.covers(shapely.Point(pin.at)) for pin in pour.pins)


@pytest.mark.parametrize("kept", [True, False])
def test_followed_with_nothing_done_both_legs_are_still_to_be_poured(
    job: Work, plan: Plan, kept: bool
) -> None:
    """Plans stored before they told the bays of their nodes have outlines alone."""
    if not kept:
        plan = replace(plan, bays=None)
    earlier = EarlierPlan(plan=plan, began=job.surface.height, lift_m=LIFTED.greatest_lift_m)
    for pour, work in zip(plan.pours, [w for w in works_of(earlier) if w.kind == "pour"], strict=True):
        assert float((work.depth[work.where]).sum()) > 0
        assert work.id == pour.id
    standing = Standing(plans=(earlier,), done=(), keep_heights=True)
    left = Work(floor=job.floor, surface=job.surface, changes={**job.changes, "standing": standing}).plan()
    assert left.patches == ()
    assert [pour.id for pour in left.pours] == [pour.id for pour in plan.pours]
    for pour, planned in zip(left.pours, plan.pours, strict=True):
        assert pour.area_m2 == pytest.approx(planned.area_m2, rel=0.02)
        assert pour.bags == planned.bags
        assert all(pin.above_slab_m > 0.0 for pin in pour.pins)


def test_an_outline_that_covers_a_part_loses_no_node_of_a_stored_plan(job: Work, plan: Plan) -> None:
    right = [pour for pour in plan.pours if min(x for x, _ in pour.outline) > 4.0]
    stored = replace(plan, bays=None, pours=tuple(right))
    earlier = EarlierPlan(plan=stored, began=job.surface.height, lift_m=LIFTED.greatest_lift_m)
    known = np.zeros_like(plan.inside)
    for work in works_of(earlier):
        if work.kind == "pour":
            known |= work.where
    assert (known == (plan.fill > 0)).all()


def test_a_sliver_of_a_strip_that_is_all_border_is_poured_with_the_strip_beside_it() -> None:
    # Strips meet at y = 2.4 m; the right-hand part of the room ends 100 mm above that.
    outline: Ring = ((0.0, 0.0), (8.0, 0.0), (8.0, 2.5), (3.0, 2.5), (3.0, 4.8), (0.0, 4.8))
    ring: Ring = ((2.0, 2.3), (3.0, 2.3), (3.0, 4.8), (2.0, 4.8))
    floor = room_of(outline=outline)
    nodes = floor_nodes(floor=floor, surface=walled(floor=floor, height_m=lambda x, y: 0.0 * x).surface)
    assert len(nodes.bays.bays) == 2
    cut = room_of(outline=outline, gaps=(ring,))
    nodes = floor_nodes(floor=cut, surface=walled(floor=cut, height_m=lambda x, y: 0.0 * x).surface)
    first, second = nodes.bays.bays
    sliver = (nodes.x > 3.2) & (nodes.y > 2.41)
    assert sliver.any()
    assert (nodes.bays.of_node[sliver] == 0).all()
    assert first.shape.area == pytest.approx(8.0 * 2.4 + 5.0 * 0.1 - 1.0 * 0.1, abs=1e-3)
    assert second.shape.area == pytest.approx(2.0 * 2.4, abs=1e-3)


def test_rooms_of_one_phase_on_both_sides_of_another_are_poured_apart() -> None:
    def room(id: str, low: float, high: float, phase: int) -> Room:
        outline: Ring = ((low, 0.0), (high, 0.0), (high, 2.0), (low, 2.0))
        return Room(id=id, name=id, outline=outline, phase=phase)

    rooms = (room("a", 0.0, 2.0, 1), room("b", 2.0, 4.0, 2), room("c", 4.0, 6.0, 1))
    floor: Floor = replace(room_of(outline=((0.0, 0.0), (6.0, 0.0), (6.0, 2.0), (0.0, 2.0))), rooms=rooms)
    nodes = floor_nodes(floor=floor, surface=walled(floor=floor, height_m=lambda x, y: 0.0 * x).surface)
    assert [bay.phase for bay in nodes.bays.bays] == [1, 1, 2]
    west, east = nodes.bays.of_node[nodes.x < 1.9], nodes.bays.of_node[nodes.x > 4.1]
    assert set(west.tolist()).isdisjoint(east.tolist())
