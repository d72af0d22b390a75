"""Pours that are still to come: in the bays and to the pins of the plan that they were set out by."""

from dataclasses import replace

import numpy as np
import shapely

from slab_core.correction.bays import Bay, Bays
from slab_core.correction.model import Pin, Pour
from slab_core.correction.pour_places import bay_of
from slab_core.correction.resurvey.standing import ROUND, EarlierPlan
from slab_core.correction.resurvey.works import Work, node_at
from slab_core.correction.task import Task
from slab_core.numerics.grid import HEIGHT_STEP_M, Grid, Ints, Mask


def bays_of_left(*, task: Task, last: EarlierPlan, pending: tuple[Work, ...], poured: Mask) -> Bays | None:
    """The earlier plan's bays over what is left of their pours; the floor's usual strips over other pours."""
    if not poured.any():
        return None
    nodes = task.case.nodes
    usual = nodes.bays
    of_node = np.full(len(nodes.x), -1, dtype=np.int32)
    bays: list[Bay] = []
    by_bay = {bay_of(pour.id)[0]: pour for pour in last.plan.pours}
    for name, pour in by_bay.items():
        lifts = [work for work in pending if work.kind == "pour" and bay_of(work.id)[0] == name]
        for work in lifts:
            of_node[work.where[nodes.inside] & poured] = len(bays)
        if lifts:
            bays.append(_bay(pour, usual=usual))
    first, highest = len(bays), max((bay_of(pour.id)[1] for pour in last.plan.pours), default=0)
    other = of_node < 0
    if (other & poured).any():
        bays += [replace(bay, number=highest + bay.number) for bay in usual.bays]
        of_node[other] = first + usual.of_node[other]
    else:
        of_node[other] = 0
    return replace(usual, bays=tuple(bays), of_node=of_node)


def pours_of_left(
    made: tuple[Pour, ...],
    *,
    last: EarlierPlan,
    pending: tuple[Work, ...],
    fill: Ints,
    round: int,
) -> tuple[Pour, ...]:
    """The pours under the names that they had, with their pins where those stand; new ones with new names."""
    planned = {pour.id: pour for pour in last.plan.pours}
    waiting = {work.id: bay_of(work.id) for work in pending if work.kind == "pour"}
    bays = {number: bay for bay, number, _ in waiting.values()}
    named = []
    for pour in made:
        number = bay_of(pour.id)[1]
        # The last lift of a bay ends at the finished floor, however many the slab now takes under it.
        over_it = max(one.lift for one in made if bay_of(one.id)[1] == number) - pour.lift
        highest = max((lift for _, of_bay, lift in waiting.values() if of_bay == number), default=0)
        id = f"{bays.get(number, '')}-lift{highest - over_it}"
        if id in waiting:
            before = planned[id]
            pins = tuple(_pin(pin, of=before, grid=last.plan.grid, fill=fill) for pin in before.pins)
            named.append(replace(pour, id=id, pins=pins, outline=before.outline, below_m=before.below_m))
        else:
            new = pour.id.replace(f"{last.plan.floor_id}-", f"{last.plan.floor_id}-{ROUND}{round}-", 1)
            named.append(replace(pour, id=new))
    return tuple(named)


def _bay(pour: Pour, *, usual: Bays) -> Bay:
    shape = shapely.Polygon(pour.outline)
    low_m, high_m = usual.turn.reach(shape)[0]
    return Bay(
        number=bay_of(pour.id)[1],
        phase=pour.phase,
        low_m=low_m,
        high_m=high_m,
        shape=shape,
    )


def _pin(pin: Pin, *, of: Pour, grid: Grid, fill: Ints) -> Pin:
    """The pin stands at its height, whatever has become of the slab; `fill` is what goes on there in all."""
    above_m = float(fill[node_at(grid, pin.at)]) * HEIGHT_STEP_M - of.below_m
    return replace(pin, above_slab_m=max(0.0, above_m))
