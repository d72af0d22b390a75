"""Grinding for height as areas that a crew can find and time."""

import numpy as np
from scipy import ndimage

from slab_core.correction.bays import phase_of_points
from slab_core.correction.model import GrindArea
from slab_core.correction.setting_out import walls_of
from slab_core.correction.unit_costs import weighted_depth
from slab_core.correction.work import Case
from slab_core.numerics.grid import Floats, Mask
from slab_core.rooms.model import Floor


def grind_areas(*, floor: Floor, case: Case, grind_mm: Floats) -> tuple[GrindArea, ...]:
    """Connected areas (eight neighbours), the largest volume first; `at` is where the cut is deepest."""
    nodes = case.nodes
    ground = np.zeros(nodes.inside.shape, dtype=np.bool_)
    ground[nodes.inside] = grind_mm > 0.0
    labels, count = ndimage.label(ground, structure=np.ones((3, 3), dtype=bool))
    of_node = labels[nodes.inside]
    areas = [_area(floor=floor, case=case, grind_mm=grind_mm, at=of_node == k + 1, k=k) for k in range(count)]
    ordered = sorted(areas, key=lambda area: -area.volume_m3)
    return tuple(ordered)


def _area(*, floor: Floor, case: Case, grind_mm: Floats, at: Mask, k: int) -> GrindArea:
    nodes, costs = case.nodes, case.costs
    members = np.flatnonzero(at)
    depth, area, hand = grind_mm[members], nodes.area_m2[members], nodes.hand[members]
    weighted = area * weighted_depth(depth_mm=depth, costs=costs)
    deepest = members[int(np.argmax(depth))]
    place = (float(nodes.x[deepest]), float(nodes.y[deepest]))
    phase = phase_of_points(rooms=floor.rooms, x=nodes.x[[deepest]], y=nodes.y[[deepest]])
    return GrindArea(
        id=f"{floor.id}-grind{k + 1}",
        phase=int(phase[0]),
        at=place,
        area_m2=float(area.sum()),
        volume_m3=float(area @ depth) * 1e-3,
        greatest_depth_m=float(depth.max()) * 1e-3,
        machine_hours=float(weighted @ (1.0 - hand)) * costs.hours_per_m2_mm,
        hand_hours=float(weighted @ hand) * costs.hand_hours_per_m2_mm,
        walls=walls_of(floor=floor, at=place),
    )
