"""Fill as a crew places it: bay by bay and lift by lift, in whole bags, with pins."""

from dataclasses import replace

import numpy as np

from slab_core.correction.flow import flow_minutes, sub_bays
from slab_core.correction.kernels import FILL
from slab_core.correction.lifts import lift_depths
from slab_core.correction.model import Pin, Pour, PourMethod
from slab_core.correction.nodes import Nodes
from slab_core.correction.pins import pin_nodes
from slab_core.correction.pour_places import bay_of
from slab_core.correction.setting_out import bay_outline, pin_at
from slab_core.correction.task import Task
from slab_core.correction.work import Work
from slab_core.numerics.grid import Floats, Ints, Mask


def pours_of(
    *, task: Task, work: Work, fill_mm: Floats, grind_mm: Floats, method: PourMethod = "screeded"
) -> tuple[Pour, ...]:
    """All pours in the order in which they are placed: by phase, then lift by lift, bay by bay.

    Pins stand to the height of the fill on the slab that `grind_mm` leaves.
    """
    nodes = task.case.nodes
    lifts = np.count_nonzero(work.pours[:, :, 1] > 0.0, axis=1)
    depths = _lifts_mm(task=task, work=work, fill_mm=fill_mm, lifts=lifts)
    top_mm = nodes.z_mm - grind_mm + fill_mm
    pours: list[Pour] = []
    for layer, depth_mm in enumerate(depths):
        below_mm = layer * work.upper_mm
        pins = (
            _pins(task=task, filled=depth_mm > 0.0, fill_mm=fill_mm - below_mm, top_mm=top_mm - below_mm)
            if method == "screeded"
            else [()] * len(lifts)
        )
        pours += [
            _pour(
                task=task,
                work=work,
                depth_mm=depth_mm,
                pins=pins[b],
                b=int(b),
                layer=layer,
                lifts=int(lifts[b]),
            )
            for b in np.flatnonzero(lifts > layer)
        ]
    numbered = sorted(pours, key=lambda pour: (pour.phase, pour.lift, bay_of(pour.id)[1]))
    return tuple(replace(pour, method=method) for pour in numbered)


def _lifts_mm(*, task: Task, work: Work, fill_mm: Floats, lifts: Ints) -> list[Floats]:
    """What each lift has at every node, the top one first; bays of one lift have all in that."""
    case = task.case
    poured_mm = np.where(work.state == FILL, fill_mm, 0.0)
    several = lifts[case.nodes.bays.of_node] > 1
    cut = lift_depths(
        poured_mm, upper_mm=work.upper_mm, least_mm=case.least_mm, lifts=max(1, int(lifts.max(initial=0)))
    )
    return [np.where(several, cut[0], poured_mm), *(np.where(several, lift, 0.0) for lift in cut[1:])]


def _pour(
    *, task: Task, work: Work, depth_mm: Floats, pins: tuple[Pin, ...], b: int, layer: int, lifts: int
) -> Pour:
    """`layer` counts from the top, a pour's lift from the bottom."""
    nodes, compound, rates = task.case.nodes, task.compound, task.rates
    bay = nodes.bays.bays[b]
    volume_m3, area_m2 = float(work.pours[b, layer, 0]) * 1e-3, float(work.pours[b, layer, 1])
    here = (nodes.bays.of_node == b) & (depth_mm > 0.0)
    return Pour(
        id=f"{task.floor.id}-bay{bay.number}-lift{lifts - layer}",
        phase=bay.phase,
        lift=lifts - layer,
        outline=bay_outline(nodes=nodes, bay=bay, filled=here),
        area_m2=area_m2,
        volume_m3=volume_m3,
        mean_depth_m=volume_m3 / area_m2,
        greatest_depth_m=float(depth_mm[here].max()) * 1e-3,
        bags=int(work.bags[b, layer]),
        edge_m=float(nodes.wall_m[here].sum()) if layer == 0 else 0.0,
        minutes=float(work.mixed[b, layer]) / rates.bags_per_hour * 60.0,
        flow_minutes=flow_minutes(compound=compound, climate=task.climate),
        pins=pins,
        sub_bays=sub_bays(
            area_m2=area_m2,
            depth_m=volume_m3 / area_m2,
            compound=compound,
            rates=rates,
            climate=task.climate,
        ),
        below_m=round(layer * work.upper_mm * 1e-3, 6),
    )


def bays_on_grid(*, nodes: Nodes, poured: Mask) -> Ints:
    """The number of the bay of each poured node, 0 elsewhere, shape (ny, nx)."""
    numbers = np.array([bay.number for bay in nodes.bays.bays], dtype=np.int32)
    grid = np.zeros(nodes.inside.shape, dtype=np.int32)
    grid[nodes.inside] = np.where(poured, numbers[nodes.bays.of_node], 0)
    return grid


def _pins(*, task: Task, filled: Mask, fill_mm: Floats, top_mm: Floats) -> list[tuple[Pin, ...]]:
    """The pins of each bay, at a lift's own heights."""
    floor, nodes = task.floor, task.case.nodes
    by_bay = pin_nodes(nodes=nodes, filled=filled, top_mm=top_mm, spacing_m=task.rates.pin_spacing_m)
    return [
        tuple(pin_at(floor=floor, nodes=nodes, n=n, fill_mm=fill_mm, top_mm=top_mm) for n in of_bay)
        for of_bay in by_bay
    ]
