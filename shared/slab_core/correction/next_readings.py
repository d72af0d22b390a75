"""Where to measure next: the places that tell most about what a plan takes.

The plan is held fixed while the slab varies. By the envelope theorem that is also how the cost of the
cheapest plane varies to first order, unless a limit holds the plane.
"""

from dataclasses import replace

import numpy as np

from slab_core.correction.marginal import bags_per_mm, bend_per_mm2, cost_per_mm
from slab_core.correction.model import NextReading, NextReadings, Plan
from slab_core.correction.setting_out import walls_of
from slab_core.correction.shortage import expected_loss
from slab_core.correction.task import Task
from slab_core.correction.work import depths_mm
from slab_core.numerics.grid import ERROR_STEP_M, Floats, to_metres
from slab_core.rooms.distances import said_place
from slab_core.surface.next_places import measurable, next_places
from slab_core.surface.sample import draw
from slab_core.surface.unknown import Sums

MOST_READINGS = 10
OFF_WALLS_M = 0.127
"""The last line of readings stands 4-6 in off every wall (common practice, no single source)."""

APART_M = 0.3048
"""Crews read a grid of 2 ft, and of 1 ft on humps (common practice, no single source)."""

LEAST_PROBES, MOST_PROBES, PROBED_M2 = 4, 16, 560.0
"""So many, and such an area together, tell the bent part of the variance to about a tenth of it."""

KNOWN_BAGS = 0.5
"""Compound is bought in whole bags: what is known to half a bag is known."""


def with_next_readings(plan: Plan, *, task: Task, spare_bag: float) -> Plan:
    """A plan that brings the whole field to one plane, with where to measure next; others as they are."""
    if plan.plane is None or plan.trowelled is not None:
        return plan
    abc_mm = task.case.nodes.from_plane(plan.plane)
    return replace(plan, next_readings=next_readings(task=task, abc_mm=abc_mm, spare_bag=spare_bag))


def next_readings(*, task: Task, abc_mm: Floats, spare_bag: float) -> NextReadings:
    """Up to ten places, each with what is still unknown after it; `spare_bag` is the price of one left over.

    The surface's own noise is taken for the next readings too: the same instrument, placed as well.
    """
    surface, costs = task.surface, task.case.costs
    if not surface.error.any():
        return NextReadings(bags_sd=0.0, cost_sd=0.0, readings=())
    found = next_places(
        surface=surface,
        sums=_sums(task=task, abc_mm=abc_mm),
        count=MOST_READINGS,
        reading_sd_m=surface.noise_sd_m,
        allowed=measurable(floor=task.floor, surface=surface, off_walls_m=OFF_WALLS_M, apart_m=APART_M),
        apart_m=APART_M,
        known_sd=KNOWN_BAGS * costs.per_bag,
    )
    readings, before = [], _loss(found.sd[1], task=task, spare_bag=spare_bag)
    for place in found.places:
        after = _loss(place.sd[1], task=task, spare_bag=spare_bag)
        readings.append(
            NextReading(
                at=place.at,
                place=said_place(floor=task.floor, at=place.at),
                walls=walls_of(floor=task.floor, at=place.at),
                bags_sd=place.sd[1],
                cost_sd=place.sd[0],
                saves=before - after,
            )
        )
        before = after
    return NextReadings(bags_sd=found.sd[1], cost_sd=found.sd[0], readings=tuple(readings))


def _loss(bags_sd: float, *, task: Task, spare_bag: float) -> float:
    return expected_loss(bags_sd=bags_sd, spare_bag=spare_bag, costs=task.case.costs)


def _sums(*, task: Task, abc_mm: Floats) -> Sums:
    """The running cost and the bags, as they change with the height of the slab in metres."""
    case, surface = task.case, task.surface
    depth = depths_mm(case=case, abc_mm=abc_mm)
    sd = to_metres(surface.error[surface.inside], step_m=ERROR_STEP_M) * 1e3
    weights, bends = np.zeros((2, 2, *surface.inside.shape))
    for i, slope in enumerate((cost_per_mm, bags_per_mm)):
        weights[i, surface.inside] = -1e3 * slope(case=case, depth_mm=depth, sd_mm=sd)
        bends[i, surface.inside] = 1e6 * bend_per_mm2(slope=slope, case=case, depth_mm=depth, sd_mm=sd)
    probes = int(np.clip(PROBED_M2 / task.floor.area_m2, LEAST_PROBES, MOST_PROBES))
    # Places of a quadrature, not chances of the job: the same every time.
    drawn = draw(spline=surface.spline, grid=surface.grid, count=probes, rng=np.random.default_rng(0))
    return Sums(weights=weights, bends=bends, probes=drawn - to_metres(surface.height))
