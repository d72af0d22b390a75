"""Every bay can be struck between two lines of pins, and what an edge leaves on them is the planned floor."""

from itertools import pairwise

import numpy as np
import pytest

from slab_core.correction.model import Plan, Solve
from slab_core.correction.placing.depths import Depths
from slab_core.correction.placing.in_part import with_pours
from slab_core.correction.placing.placed_plan import plan_of_placed
from slab_core.correction.placing.spots import placed_of
from slab_core.correction.pour_places import bay_numbers, bay_of
from slab_core.correction.strips import Turn
from slab_core.correction.unit_costs import SCREED_BAY_M
from slab_core.materials import starter
from slab_core.numerics.grid import Floats, Mask
from tests.invented_floors import LIFTED, Work, rectangle, work
from tests.walled_floors import L_ROOM, U_ROOM, low_legs, room_of, walled

SPACING_M = starter.rates().pin_spacing_m
BORDER_M = 0.15


def l_room() -> Work:
    return walled(floor=room_of(outline=L_ROOM), height_m=lambda x, y: -0.008 + 0.0 * x, compound=LIFTED)


def u_room() -> Work:
    return walled(floor=room_of(outline=U_ROOM), height_m=low_legs, compound=LIFTED)


def hall() -> Work:
    return work(floor=rectangle(width_m=5.0, length_m=9.0), height_m=lambda x, y: 0.0 * x, columns=50)


def trench(x: Floats, y: Floats) -> Floats:
    """Metres: a strip across the middle of a hall, 30 mm low, round below, for 6 of its 8 m."""
    across = np.sqrt(np.clip(1.0 - np.abs(y - 4.0) / 1.2, 0.0, 1.0))
    return np.asarray(-0.030 * across * np.clip((x - 1) / 0.5, 0, 1) * np.clip((7 - x) / 0.5, 0, 1))


def pinned() -> tuple[Work, Plan]:
    """A trench poured to pins, which bend the surface at every station."""
    job = work(
        floor=rectangle(width_m=8.0, length_m=8.0), height_m=trench, columns=80, compound=starter.compound()
    )
    task = job.task()
    nodes = task.case.nodes
    # The floor sags by 15 mm in the middle, which pins can follow only in straight pieces.
    target = -15.0 * np.cos((nodes.x - 4.0) / 4.0 * np.pi / 2.0) * np.cos((nodes.y - 4.0) / 4.0 * np.pi / 2.0)
    fill = np.maximum(np.where(nodes.z_mm < -16.0, target - nodes.z_mm, 0.0), 0.0)
    depths = Depths(fill_mm=fill, grind_mm=np.zeros_like(fill), target_mm=target)
    draft = with_pours(task=task, depths=depths, bay_m=SCREED_BAY_M, together=False)
    assert draft is not None
    placed = placed_of(name="", task=task, draft=draft)
    assert placed is not None
    solve = Solve(status="feasible", objective=placed.cost, bound=0.0)
    plan = plan_of_placed(
        placed=placed, after=(), alternate="cheapest", solve=solve, considered=(), workability=None
    )
    return job, plan


def rails(plan: Plan, *, number: int, turn: Turn) -> tuple[Floats, Floats, Floats]:
    """Along, and (across, height in mm) of the lower and of the upper rail of a bay at each of its stations,
    shapes (n,), (n, 2), (n, 2). The upper rail may be the line of the next bay."""
    step = plan.grid.step_m
    pins = [pin for pour in plan.pours for pin in pour.pins]
    x, y = (np.array([pin.at[k] for pin in pins]) for k in (0, 1))
    across, along = turn.turned(x=x, y=y)
    height = np.array([pin.height_m for pin in pins]) * 1e3
    here = _around(bay_numbers(plan) == number)
    i = np.rint((y - plan.grid.y0_m) / step).astype(int), np.rint((x - plan.grid.x0_m) / step).astype(int)
    mine = here[i]
    stations, low, high = [], [], []
    for at in np.unique(np.round(along[mine], 3)):
        row = np.flatnonzero(mine & (np.abs(along - at) < 1e-3))
        first, last = row[across[row].argmin()], row[across[row].argmax()]
        stations.append(at)
        low.append((across[first], height[first]))
        high.append((across[last], height[last]))
    return np.array(stations), np.array(low), np.array(high)


def _around(where: Mask) -> Mask:
    """The marked nodes and those beside them."""
    found = where.copy()
    for axis in (0, 1):
        for by in (1, -1):
            found |= np.roll(where, by, axis=axis)
    return found


def struck_off_mm(job: Work, plan: Plan, *, number: int) -> Floats:
    """How far the planned floor is from what an edge leaves that rides the rails of a bay, at its nodes."""
    turn = job.task().case.nodes.bays.turn
    stations, low, high = rails(plan, number=number, turn=turn)
    here = bay_numbers(plan) == number
    x, y = plan.grid.places().T
    across, along = turn.turned(x=x[here.ravel()], y=y[here.ravel()])
    top = (job.surface.height - plan.grind + plan.fill)[here] * 1e-2
    between = (along >= stations[0]) & (along <= stations[-1])
    ends = [np.interp(along, stations, side[:, k]) for side in (low, high) for k in (0, 1)]
    share = (across - ends[0]) / (ends[2] - ends[0])
    return np.asarray((top - ends[1] - share * (ends[3] - ends[1]))[between])


def test_an_edge_on_the_printed_pins_leaves_the_poured_surface_where_that_bends() -> None:
    job, plan = pinned()
    bends = np.abs(np.diff((job.surface.height + plan.fill)[40], n=2)).max()
    assert bends > 3  # 0.01 mm: it is no plane
    for pour in plan.pours:
        off = struck_off_mm(job, plan, number=bay_of(pour.id)[1])
        assert len(off) > 100
        assert np.abs(off).max() < 0.1


@pytest.mark.parametrize("job", [l_room(), u_room(), hall()])
def test_pins_along_both_rails_of_every_bay_are_no_farther_apart_than_the_spacing(job: Work) -> None:
    plan = job.at(height_m=0.0 if job.surface.height.min() < 0 else 0.006)
    turn = job.task().case.nodes.bays.turn
    x, y = plan.grid.places().T
    for pour in plan.pours:
        here = (bay_numbers(plan) == bay_of(pour.id)[1]).ravel()
        across, along = turn.turned(x=x[here], y=y[here])
        stations, low, high = rails(plan, number=bay_of(pour.id)[1], turn=turn)
        step = plan.grid.step_m
        if np.ptp(across) > 2 * BORDER_M:
            assert (high[:, 0] - low[:, 0] > 0.5 * np.ptp(across)).any()
        assert stations[0] <= along.min() + BORDER_M + step
        assert stations[-1] >= along.max() - BORDER_M - step
        assert all(b - a <= SPACING_M + 2 * step for a, b in pairwise(stations))


def test_where_no_bay_goes_on_the_far_line_stands_off_the_wall() -> None:
    """The first bay of the L is 2.5 m wide where the second has no floor, from x = 3 to 8 m."""
    pins = [pin.at for pour in l_room().at(height_m=0.0).pours for pin in pour.pins]
    far = sorted(x for x, y in pins if 2.2 < y < 2.5 and x > 3.0)
    assert far[0] < 3.0 + SPACING_M
    assert far[-1] > 8.0 - 0.15 - 0.11
    assert max(b - a for a, b in pairwise(far)) <= SPACING_M + 0.1


def test_no_pin_is_printed_twice() -> None:
    pins = [pin.at for pour in hall().at(height_m=0.006).pours for pin in pour.pins]
    assert len(set(pins)) == len(pins)
    # Two bays on the 5 m: three lines of nine stations on the 9 m.
    assert len(pins) == 3 * 9


def test_an_edge_passes_over_floor_that_is_left_and_not_over_an_obstacle() -> None:
    """A column in the middle of a bay: at its station short edges ride from each side to pins beside it."""
    column = ((1.1, 1.9), (1.5, 1.9), (1.5, 2.3), (1.1, 2.3))
    floor = room_of(outline=((0.0, 0.0), (2.6, 0.0), (2.6, 4.2), (0.0, 4.2)), gaps=(column,))
    job = walled(floor=floor, height_m=lambda x, y: 0.0 * x, columns=26)
    (pour,) = job.at(height_m=0.006).pours
    beside = sorted(pin.at[0] for pin in pour.pins if 1.9 < pin.at[1] < 2.3)
    assert len(beside) == 4
    assert beside[1] < 1.1 < 1.5 < beside[2]
    apart = [pin.at[0] for pin in pour.pins if pin.at[1] < 0.2]
    assert len(apart) == 2
